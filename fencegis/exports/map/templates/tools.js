// The strip of tools: the tape, the place where the reader stands, coordinates, the long section.

class Told {
  // What the tools say, in one corner of the map: a part for each tool that is in use.
  constructor(map) {
    this.parts = {};
    this.box = make("div", "told");
    const control = L.control({ position: "bottomright" });
    control.onAdd = () => {
      L.DomEvent.disableClickPropagation(this.box);
      L.DomEvent.disableScrollPropagation(this.box);
      return this.box;
    };
    control.addTo(map);
    this.box.hidden = true;
  }

  say(tool, title, lines, put, live = "status") {
    if (!this.parts[tool]) {
      const words = make("div", "words"), button = make("button", "away", "×");
      words.setAttribute("role", live);
      button.type = "button";
      button.setAttribute("aria-label", `Put away: ${title}`);
      button.addEventListener("click", put);
      this.parts[tool] = { part: make("div", `told-${tool}`, make("h3", "", title), button, words), words };
      this.box.append(this.parts[tool].part);
      this.box.hidden = false;
    }
    this.parts[tool].words.replaceChildren(...lines.map((line) => make("p", "", line)));
  }

  hush(tool) {
    if (!this.parts[tool]) return;
    this.parts[tool].part.remove();
    delete this.parts[tool];
    this.box.hidden = !Object.keys(this.parts).length;
  }
}

class Tape {
  constructor(map, told, switched) {
    Object.assign(this, { map, told, switched, ends: [], drawn: L.layerGroup() });
    this.pen = L.svg({ pane: "tools", padding: 0.3 });
    map.getContainer().addEventListener("keydown", (event) => this.key(event));
  }

  turn(on) {
    this.ends = [];
    this.map.getContainer().classList.toggle("taping", on);
    this.map.doubleClickZoom[on ? "disable" : "enable"]();
    taps.take = on ? (place) => this.take(place) : null;
    if (on) this.map.closePopup();
    this.show(on);
  }

  key(event) {
    if (!taps.take || event.target !== this.map.getContainer()) return;
    const { lat, lng } = this.map.getCenter();
    if (event.key === "Enter" || event.key === " ") this.take([lat, lng]);
    else if (event.key === "Escape") this.switched(false);
    else return;
    event.preventDefault();
  }

  take(place) {
    if (this.ends.length === 2) this.ends = [];
    this.ends.push(place);
    this.show(true);
  }

  show(on) {
    this.drawn.clearLayers();
    const line = (look) => L.polyline(this.ends, { renderer: this.pen, pane: "tools", interactive: false, ...look }).addTo(this.drawn);
    if (this.ends.length === 2) { line({ color: "#fff", weight: 7 }); line({ color: PLUM, weight: 3.5, dashArray: "2 7", lineCap: "square" }); }
    for (const end of this.ends) L.circleMarker(end, { renderer: this.pen, pane: "tools", interactive: false, radius: 6, color: "#fff", weight: 2, fillColor: PLUM, fillOpacity: 1 }).addTo(this.drawn);
    this.drawn.addTo(this.map);
    if (!on) { this.told.hush("tape"); return; }
    this.told.say("tape", "Tape", this.words(), () => this.switched(false));
  }

  words() {
    const how = "With keys: arrows move the map, Enter takes its middle, Escape puts the tape away.";
    if (!this.ends.length) return ["Point at one end, then at the other.", how];
    if (this.ends.length === 1) return ["One end is set. Point at the other.", how];
    const { metres, bearing } = geodesic(...this.ends);
    return [make("strong", "", metres < 0.05 ? inMetres(0) : `${inMetres(metres)}, ${inDegrees(bearing)} true`), "Level, on the ellipsoid, between two places pointed at on this map. Nothing is built by it. Point again for another."];
  }
}

class Grid {
  constructor(map, data, told, switched) {
    Object.assign(this, { map, data, told, switched, pointer: null, on: false });
    map.on("mousemove", (event) => { this.pointer = L.Browser.mobile ? null : event.latlng; this.show(); });
    map.on("mouseout move", (event) => { if (event.type === "mouseout" || !event.originalEvent) this.pointer = null; this.show(); });
  }

  turn(on) {
    this.on = on;
    this.map.getContainer().classList.toggle("asking", on);
    if (on) this.show();
    else this.told.hush("grid");
  }

  show() {
    if (!this.on) return;
    const at = this.pointer || this.map.getCenter(), { grid, doubt_m: doubt } = this.data, found = grid && official(grid, [at.lat, at.lng]);
    const lines = [`Of the ${this.pointer ? "pointer" : "map's middle"}`];
    if (!grid) lines.push("The official grid cannot be told here.");
    else if (!found) lines.push(`${grid.name}: not told so far from the fence.`);
    else lines.push(make("strong", "", `E ${figures(found.east, 1)}  N ${figures(found.north, 1)} ${grid.unit}`), `${grid.name}; fitted to ${grid.error_mm} mm.`);
    const lon = ((((at.lng + 180) % 360) + 360) % 360) - 180;
    lines.push(`Longitude ${figures(lon, 6)}°, latitude ${figures(at.lat, 6)}° (WGS 84)`);
    lines.push(doubt ? `Drawn to about ± ${inMetres(doubt)} east and north, each: not a boundary.` : "How far off the drawing is nobody has said: not a boundary.");
    this.told.say("grid", "East, north", lines, () => this.switched(false), "note");
  }
}

const NOT_FOR = "Not for finding a wire, a cable or a boundary.";
const NO_PLACE = {
  1: "The reader, or the browser for this page, has refused to tell where this is. Browser settings decide; many refuse it to pages opened from a file.",
  2: "The device cannot tell where it is: no satellites or no other source. Try again under open sky.",
  3: "The device has not told where it is within 30 seconds. Try again under open sky.",
};

class Here {
  constructor(map, cursor, data, told, switched) { Object.assign(this, { map, cursor, data, told, switched, drawn: L.layerGroup(), watch: null }); }

  turn(on) {
    this.found = false;
    if (!on) {
      if (this.watch !== null) navigator.geolocation.clearWatch(this.watch);
      this.watch = null;
      this.drawn.clearLayers().remove();
      this.told.hush("here");
      return;
    }
    if (!("geolocation" in navigator)) { this.say("This browser tells no page where it is."); return; }
    if (!window.isSecureContext) { this.say("This browser tells a page opened in this way (from a file, or over plain http) not where it is."); return; }
    this.say("Asking the device where it is …");
    this.watch = navigator.geolocation.watchPosition(
      (fix) => this.show(fix), (error) => this.failed(error), { enableHighAccuracy: true, timeout: 30000, maximumAge: 0 },
    );
  }

  say(...lines) { this.told.say("here", "Where am I", [...lines, make("b", "", NOT_FOR)], () => this.switched(false)); }

  failed(error) {
    // An old place is not left standing as if it were the new one.
    this.drawn.clearLayers();
    this.say(NO_PLACE[error.code] || NO_PLACE[2]);
  }

  show({ coords, timestamp }) {
    const place = [coords.latitude, coords.longitude], within = coords.accuracy;
    this.drawn.clearLayers().addTo(this.map);
    if (!(within >= 0)) { this.say("The device tells a place and not how far off it may be: it is not shown."); return; }
    const look = { pane: "tools", interactive: false, color: INK };
    // Leaflet's circle is round on a sphere; by the ellipsoid it may be short by a third of a percent: rounded up.
    L.circle(place, { ...look, radius: within * 1.004, weight: 2, dashArray: "6 4", fillColor: PLUM, fillOpacity: 0.16 }).addTo(this.drawn);
    L.circleMarker(place, { ...look, radius: 7, weight: 3, color: "#fff", fillColor: INK, fillOpacity: 1 }).addTo(this.drawn);
    if (!this.found) this.map.fitBounds(L.latLng(place).toBounds(Math.max(60, within * 2.4)), { maxZoom: 19, animate: false });
    this.found = true;
    this.say(...this.words(place, within), `Told at ${new Date(timestamp).toLocaleTimeString("en-GB")}.`);
  }

  words(place, within) {
    const near = nearestOn(this.cursor.lines, place), line = this.cursor.lines[near.line], give = `± ${inMetres(within, within < 10 ? 1 : 0)}`;
    const { doubt_m: doubt } = this.data;
    const side = near.offset > 0 ? "right" : "left", end = near.m < 0.01 || near.m > line.length - 0.01;
    const words = [
      make("strong", "", `${line.name.replace("line", "Line")}, ${inMetres(near.m)} ${give}`),
      make("strong", "", `${inMetres(near.away)} ${end ? "from its end" : `${side} of it`} ${give}`),
    ];
    if (near.away <= within + 2.45 * doubt) words.push("Which side of the line this is cannot be told.");
    words.push(doubt ? `The circle is the device's own word; the line is drawn to about ± ${inMetres(doubt)} besides.` : "The circle is the device's own word; how far off the line is drawn nobody has said.");
    return words;
  }
}

function toolStrip(map, data, cursor, panel) {
  const button = (name) => document.querySelector(`[data-tool="${name}"]`);
  const told = new Told(map), made = {}, on = {};
  const turn = (name, wanted) => {
    // One tool at a time: what they say shares one corner of the map.
    for (const other of Object.keys(made)) if (wanted && other !== name && on[other]) turn(other, false);
    on[name] = wanted;
    button(name).setAttribute("aria-pressed", String(wanted));
    made[name].turn(wanted);
  };
  const switched = (name) => (wanted) => { turn(name, wanted); button(name).focus(); };
  made.tape = new Tape(map, told, switched("tape"));
  made.grid = new Grid(map, data, told, switched("grid"));
  made.here = new Here(map, cursor, data, told, switched("here"));
  for (const name of Object.keys(made)) button(name).addEventListener("click", () => turn(name, !on[name]));
  map.getContainer().append(make("div", "cross", drawing("place-mark", "", 34, 34)));

  const fence = L.latLngBounds(data.runs.flatMap((run) => run.at));
  const section = (wanted, first) => {
    if (wanted && narrow.matches) panel.close();
    const seen = first ? null : map.getBounds();
    cursor.show(wanted);
    button("section").setAttribute("aria-expanded", String(wanted));
    map.invalidateSize({ animate: false, pan: !first });
    // The smaller map shows what the larger one showed.
    if (wanted && seen) seen.contains(fence) ? firstView(map, data) : map.fitBounds(seen, { animate: false });
  };
  button("section").addEventListener("click", () => section(!cursor.open));
  for (const tab of document.querySelectorAll(".tabs button")) {
    tab.addEventListener("click", () => { if (narrow.matches && cursor.open) section(false); }, { capture: true });
  }
  button("find").addEventListener("click", () => {
    if (narrow.matches && cursor.open) section(false);
    panel.show("look-runs");
    document.getElementById("find").focus({ preventScroll: false });
  });
  section(!narrow.matches && window.innerHeight >= 600, true);
  return { button, rest() { for (const name of Object.keys(made)) if (on[name]) turn(name, false); map.closePopup(); } };
}
