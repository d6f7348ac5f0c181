// The page begins: the pictures, the drawing as it was left, the keys.
const Inlined = L.TileLayer.extend({
  createTile(coords, done) {
    const tile = L.DomUtil.create("img"), uri = this.options.tiles[`${coords.z}/${coords.x}/${coords.y}`];
    tile.alt = "";
    tile.onload = () => done(null, tile);
    if (uri) tile.src = uri;
    else setTimeout(() => done(null, tile), 0);
    return tile;
  },
});
const GREATEST_ZOOM = 23;

function pictures(map, { ground, relief }) {
  const box = ([south, west, north, east]) => L.latLngBounds([south, west], [north, east]);
  const lay = ({ bounds, whole }, alt, more) => L.imageOverlay(whole, box(bounds), { pane: "tilePane", alt, ...more });
  const imagery = ground.whole ? lay(ground, "Aerial picture") : new Inlined("", {
    tiles: ground.tiles, bounds: box(ground.bounds), minNativeZoom: ground.widest, maxNativeZoom: ground.deepest, maxZoom: GREATEST_ZOOM,
  });
  const bases = { "Aerial picture": imagery.addTo(map) };
  if (relief) bases["Shaded relief"] = lay(relief, "Shaded relief", { opacity: 0.8 });
  bases["Plain paper"] = L.layerGroup();
  L.control.layers(bases, {}, { collapsed: true }).addTo(map);
  L.control.scale({ imperial: false, maxWidth: 160, position: "bottomleft" }).addTo(map);
  map.attributionControl.setPrefix("Leaflet");
  map.fitBounds(box(ground.bounds), { animate: false });
  map.setMinZoom(map.getZoom() - 3).setMaxBounds(box(ground.bounds).pad(1));
}

function shelfFor(layers, key) {
  // What is kept in the browser, and which layers are in a file as they are drawn: the text of a file, made short.
  const storage = cabinet(key), digest = (text) => [...text].reduce((sum, mark) => (Math.imul(sum, 31) + mark.codePointAt(0)) | 0, text.length);
  const kept = storage.load(), saved = kept ? { ...kept.saved } : {};
  let last = null;
  return {
    kept: kept && kept.state,
    keep: (state) => { last = state; storage.keep(state, saved); },
    note: (layer, text) => { saved[layer.name] = digest(text); },
    saved(layer, text) { this.note(layer, text); storage.keep(last, saved); this.after(); },
    unsaved: (state) => layers.filter((layer) => (layer.name in saved ? digest(fileText(state, layer)) !== saved[layer.name] : ofLayer(state, layer.name).length > 0)),
    refused: storage.refused,
    after: () => {},
  };
}

function keysFor(map, pen) {
  const typing = (target) => /^(INPUT|SELECT|TEXTAREA)$/.test(target.tagName);
  document.addEventListener("keydown", (event) => {
    const { target } = event, onMap = target === map.getContainer(), command = event.ctrlKey || event.metaKey, view = pen.view();
    if (event.key === "Escape") {
      if (view.tool) pen.leave();
      else pen.choose(null);
      if (!typing(target)) map.getContainer().focus({ preventScroll: true });
    } else if (command && !typing(target) && /^[zy]$/i.test(event.key)) {
      if (event.key.toLowerCase() === "y" || event.shiftKey) pen.redo();
      else pen.undo();
    } else if (event.key === "Enter" && onMap) pen.placeHere();
    else if (event.key === "Delete" && onMap && view.chosen && !view.tool) pen.change(swapped(view.state, view.chosen.id, null), "Taken away.");
    else return;
    event.preventDefault();
  });
}

function draftPage() {
  const data = JSON.parse(byId("draft-data").textContent), { layers } = data;
  const map = L.map("map", {
    maxZoom: GREATEST_ZOOM, zoomSnap: data.ground.whole ? 0.25 : 1, renderer: L.canvas({ padding: 0.3 }),
    zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false, inertia: false,
  });
  const panBy = map.panBy;
  map.panBy = (by, how) => panBy.call(map, by, { ...how, animate: false }); // what is set down next goes where the map stands
  pictures(map, data);
  const shelf = shelfFor(layers, data.key), given = data.boundary && readFile("boundary.geojson", JSON.stringify(data.boundary), layers);
  const blank = given && given.layer ? withLayer(EMPTY, given.layer.name, given.features) : EMPTY;
  if (!shelf.kept && given && given.layer) shelf.note(given.layer, fileText(blank, given.layer));
  const say = (words, { quietly } = {}) => {
    byId("readout").textContent = words;
    if (!quietly) byId("heard").textContent = words;
  };
  const fresh = [];
  const refresh = () => fresh.forEach((work) => work(pen.view(), layers));
  let pen = { view: () => ({ state: EMPTY }) };
  pen = drafting(map, layers, finished(shelf.kept || blank, layers), { keep: shelf.keep, say, refresh: () => refresh() });
  shelf.keep(pen.view().state);
  shelf.after = refresh;
  const part = parts();
  fresh.push(
    toolRows(layers, (layer, shape) => { part.shut(); pen.begin(layer, shape); map.getContainer().focus({ preventScroll: true }); }),
    chosenPart(layers, pen),
    filesPart(layers, { pen, shelf, open }),
    bar(pen, () => {
      part.open("look-chosen");
      const first = document.querySelector("#chosen .waits input, #chosen .waits select");
      if (first) first.focus();
    }),
    part.follow
  );

  function open(name, text) {
    const { layer, features, faults } = readFile(name, text, layers);
    if (!layer) return faults;
    const before = ofLayer(pen.view().state, layer.name).length;
    const next = withLayer(pen.view().state, layer.name, features);
    if (!faults.some((line) => line.includes("Left out"))) shelf.note(layer, fileText(next, layer));
    pen.change(next, `${layer.file}: ${features.length} opened${before ? ` in place of ${before}; Undo brings them back` : ""}.`);
    const far = features.some((feature) => feature.parts.flat().some((place) => !map.options.maxBounds.contains([place[1], place[0]])));
    return far ? [...faults, `${layer.file}: some of it lies off the picture.`] : faults;
  }

  keysFor(map, pen);
  // A part that opens leaves the middle of the map in the middle; a row of buttons more leaves all where it was.
  new ResizeObserver(() => map.invalidateSize({ animate: false, pan: Math.abs(map.getSize().y - map.getContainer().clientHeight) > 120 })).observe(map.getContainer());
  window.addEventListener("beforeunload", (event) => {
    if (!shelf.unsaved(pen.view().state).length) return;
    event.preventDefault();
    event.returnValue = "";
  });
  refresh();
  if (given) byId("faults").replaceChildren(...given.faults.map((line) => make("li", {}, line)));
  say(shelf.kept ? "As it was left." : "Choose a tool under Draw.");
  document.body.dataset.ready = "yes";
}
draftPage();
