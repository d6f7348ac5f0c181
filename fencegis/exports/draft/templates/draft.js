// Drawing on the map: one state, and `change`, through which every change goes; it is the undo list and the save.
const STAND_BY_M = 20; // a step with Shift, in pixels
const keyOf = ({ id, part, vertex, between }) => `${id}:${part}:${vertex}${between ? "+" : ""}`;

function drafting(map, layers, start, { keep, say, refresh }) {
  const ink = L.layerGroup().addTo(map), hint = L.layerGroup().addTo(map), shown = new Map();
  const reach = () => (finger ? 22 : 12);
  const pixel = (place) => screenOf(map, place);
  const layerOf = (name) => layers.find((layer) => layer.name === name);
  const past = [], ahead = [];
  let state = start, chosen = null, held = null, tool = null, gripping = true, finger = window.matchMedia("(pointer: coarse)").matches;
  const growing = () => tool && tool.id && found(state, tool.id);
  const growingEnd = () => (tool.front ? 0 : growing().parts[0].length - 1);

  function change(next, words) {
    if (next === state) return;
    past.push(state);
    ahead.length = 0;
    state = next;
    settle(words);
  }

  function step(from, to, word) {
    if (!from.length) return;
    to.push(state);
    state = from.pop();
    if (tool && tool.id && (!growing() || isArea(growing()))) tool = { ...tool, id: null };
    settle(`${word}.`);
  }

  function settle(words) {
    if (chosen && !found(state, chosen)) chosen = held = null;
    if (held && (held.id !== chosen || !(found(state, chosen).parts[held.part] || [])[held.vertex])) held = null;
    keep(state);
    show();
    const feature = chosen && found(state, chosen);
    say([words, feature ? sayOf(feature) : ""].filter(Boolean).join(" "));
  }

  function show() {
    draw(state);
    handles();
    map.getContainer().classList.toggle("drawing", Boolean(tool));
    map.doubleClickZoom[tool ? "disable" : "enable"]();
    hint.clearLayers();
    refresh();
  }

  function draw(view) {
    ink.clearLayers();
    for (const feature of inDrawingOrder(view.features, chosen)) for (const path of pathsOf(feature, layerOf(feature.layer), feature.id === chosen)) ink.addLayer(path);
  }

  const nameOf = (feature) => (["string", "number"].includes(typeof feature.properties.name) && short(feature.properties.name)) || `${layerOf(feature.layer).one} ${ofLayer(state, feature.layer).indexOf(feature) + 1}`;
  const gripped = (latlng, layer, own) => takingHold(map, state, latlng, { layer, own, growing: growing(), reach: reach(), gripping });

  function ontoWords(hit) {
    if (!hit.onto) return "";
    if (hit.self) return hit.vertex === growingEnd() ? "ends it here" : "closes the loop";
    return `onto ${hit.onto === "line" ? "the line of " : hit.onto === "mark" ? "" : `the ${hit.onto} of `}${nameOf(hit.feature)}`;
  }

  // ---- tools -------------------------------------------------------------------------------------------------------

  function begin(layer, shape) {
    leave();
    chosen = held = null;
    tool = { layer, shape, id: null, front: false };
    show();
    const { one } = layerOf(layer);
    say(shape === "mark" ? `${one}: tap where it stands.` : `${one}, ${shape}: tap each corner; ${shape === "line" ? "the last one again ends it" : "the first one again closes it"}.`);
  }

  function goOn() {
    const feature = found(state, chosen), front = Boolean(held && held.vertex === 0);
    tool = { layer: feature.layer, shape: "line", id: chosen, front };
    show();
    say(`${nameOf(feature)} goes on from its ${front ? "start" : "end"}.`);
  }

  function place(latlng) {
    if (!tool) return choose(chosenAt(map, state, latlng, reach()));
    const hit = gripped(latlng, tool.layer), growth = growing(), onto = ontoWords(hit);
    if (tool.shape === "mark") {
      chosen = state.next;
      return change(begun(state, tool.layer, "Point", hit.place), `${layerOf(tool.layer).one} placed${onto && ` ${onto}`}.`);
    }
    if (!growth) {
      chosen = state.next;
      tool = { ...tool, id: state.next };
      return change(begun(state, tool.layer, "LineString", hit.place), `Start${onto && ` ${onto}`}.`);
    }
    const count = growth.parts[0].length, last = growingEnd();
    if (hit.self) return hit.vertex === last ? end() : count > 2 ? close() : undefined;
    const leg = geodesic(growth.parts[0][last], hit.place);
    return change(
      inserted(state, { id: tool.id, part: 0, vertex: tool.front ? 0 : count }, hit.place),
      `Corner ${count + 1}${onto && ` ${onto}`}. Leg ${sayMetres(leg.metres)} at ${sayBearing(leg.bearing)}.`
    );
  }

  function close() {
    const { id } = tool, { geometries } = layerOf(tool.layer);
    if (!geometries.includes("Polygon")) return say("This cannot be a loop: end it as a line.");
    tool = null;
    return change(closed(state, id), "Loop closed.");
  }

  function end() {
    const growth = growing();
    if (!growth) return leave();
    const count = growth.parts[0].length, line = tool.shape === "line" && layerOf(tool.layer).geometries.includes("LineString");
    if (!line && count > 2) return close();
    tool = null;
    if (line && count > 1) {
      show();
      return say(`Line ended. ${sayOf(growth)}`);
    }
    return change(swapped(state, growth.id, null), line ? "A line of one place is none: taken away." : "Fewer than three corners enclose nothing: taken away.");
  }

  function leave() {
    if (growing()) end();
    if (!tool) return;
    tool = null;
    show();
    say("Tool put down.");
  }

  function choose(id) {
    chosen = id;
    held = null;
    show();
    if (id) say(`${nameOf(found(state, id))}. ${sayOf(found(state, id))}`);
  }

  // ---- vertices: markers of 24 pixels that take focus ----------------------------------------------------------------

  function handles() {
    const feature = chosen && found(state, chosen), wanted = new Map();
    if (feature) {
      const seen = map.getBounds().pad(0.2);
      feature.parts.forEach((places, part) => {
        const vertices = places.map((place, vertex) => ({ id: feature.id, part, vertex, place, count: places.length }));
        const between = isPoint(feature) || (tool && tool.id) ? [] : vertices.slice(0, isArea(feature) ? undefined : -1).map(({ vertex, place }) => {
          const after = places[(vertex + 1) % places.length], half = map.project([place[1], place[0]], 22).add(map.project([after[1], after[0]], 22)).divideBy(2);
          return { id: feature.id, part, vertex: vertex + 1, between: true, place: placeOf(map.unproject(half, 22)), wide: pixel(place).distanceTo(pixel(after)) };
        }).filter((one) => one.wide > 56);
        for (const one of [...vertices, ...between]) if (wanted.size < 400 && seen.contains([one.place[1], one.place[0]])) wanted.set(keyOf(one), one);
      });
    }
    for (const [key, marker] of shown) if (!wanted.has(key)) { marker.remove(); shown.delete(key); }
    for (const [key, one] of wanted) {
      if (!shown.has(key)) shown.set(key, handle(one));
      dress(shown.get(key).setLatLng([one.place[1], one.place[0]]), one);
    }
  }

  function handle(one) {
    const marker = L.marker([one.place[1], one.place[0]], {
      draggable: true, keyboard: true, zIndexOffset: one.between ? 0 : 500,
      icon: L.divIcon({ className: one.between ? "handle between" : "handle", iconSize: [24, 24], html: "<i></i>" }),
    }).addTo(map);
    const target = (latlng) => gripped(latlng, found(state, one.id).layer, one.between ? null : one);
    const after = (hit) => (one.between ? inserted(state, one, hit.place) : moved(state, one, hit.place));
    const done = (hit, words) => {
      const fault = one.between ? "" : joinsItself(one, hit);
      held = { ...one, between: false };
      change(fault ? closed(without(state, one), one.id) : after(hit), fault || words);
      focusOn(held);
    };
    marker.on("drag", () => {
      const hit = target(marker.getLatLng()), view = after(hit);
      draw(view);
      say(besides(found(view, one.id), one) + (hit.onto ? ` · ${ontoWords(hit)}` : ""), { quietly: true });
    });
    marker.on("dragend", () => {
      const hit = target(marker.getLatLng());
      done(hit, one.between ? "Corner put in." : `Moved${hit.onto ? ` ${ontoWords(hit)}` : ""}.`);
    });
    const tap = () => {
      if (one.between) return done({ place: placeOf(marker.getLatLng()) }, "Corner put in.");
      const growth = growing();
      if (growth && growth.id === one.id) {
        const count = growth.parts[0].length;
        return one.vertex === growingEnd() ? end() : (one.vertex === 0 || one.vertex === count - 1) && count > 2 ? close() : undefined;
      }
      if (tool) return place(marker.getLatLng());
      held = one;
      show();
      return focusOn(one);
    };
    marker.on("click", tap);
    marker.getElement().addEventListener("keydown", (event) => {
      const far = event.shiftKey ? STAND_BY_M : 1;
      const by = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, -far], ArrowDown: [0, far] }[event.key];
      if (by) done({ place: placeOf(map.containerPointToLatLng(map.latLngToContainerPoint(marker.getLatLng()).add(by))) }, "");
      else if (event.key === "Delete" || event.key === "Backspace") take(one);
      else if (event.key === "Enter" || event.key === " ") tap();
      else return;
      event.preventDefault();
      event.stopPropagation();
    });
    marker.getElement().addEventListener("focus", () => {
      if (one.between || (held && keyOf(held) === keyOf(one))) return;
      held = one;
      handles();
      refresh();
    });
    return marker;
  }

  function joinsItself(one, hit) {
    // An end of a line moved onto its other end makes a loop of it.
    const feature = found(state, one.id), places = feature.parts[one.part], last = places.length - 1;
    if (feature.type !== "LineString" || last < 3 || !layerOf(feature.layer).geometries.includes("Polygon")) return "";
    return (one.vertex === 0 && samePlace(hit.place, places[last])) || (one.vertex === last && samePlace(hit.place, places[0])) ? "Loop closed." : "";
  }

  function dress(marker, one) {
    const element = marker.getElement(), feature = found(state, one.id);
    element.classList.toggle("held", Boolean(held && keyOf(held) === keyOf(one)));
    element.classList.toggle("mark", isPoint(feature));
    element.classList.toggle("end", !one.between && !isArea(feature) && !isPoint(feature) && (one.vertex === 0 || one.vertex === one.count - 1));
    element.setAttribute("aria-label", one.between ? `Put a corner between ${one.vertex} and ${(one.vertex % feature.parts[one.part].length) + 1} of ${nameOf(feature)}`
      : isPoint(feature) ? nameOf(feature) : `Corner ${one.vertex + 1} of ${one.count}, ${nameOf(feature)}`);
  }

  function besides(feature, { part, vertex }) {
    // The legs before and after a vertex, in words.
    if (!feature || isPoint(feature)) return "";
    const places = feature.parts[part], ring = isArea(feature), from = places[vertex - 1] || (ring && places.at(-1)), to = places[vertex + 1] || (ring && places[0]);
    const legs = [from && geodesic(from, places[vertex]), to && geodesic(places[vertex], to)].filter(Boolean);
    return [...legs.map((leg) => `${sayMetres(leg.metres)} at ${sayBearing(leg.bearing)}`), sayOf(feature)].join(" · ");
  }

  function take(one) {
    held = null;
    const last = found(state, one.id).parts[one.part].length - 1;
    change(without(state, one), "Corner taken out.");
    if (found(state, one.id)) focusOn({ ...one, vertex: Math.min(one.vertex, last - 1) });
    else map.getContainer().focus();
  }

  function focusOn(one) {
    const marker = shown.get(keyOf({ ...one, between: false }));
    if (marker) marker.getElement().focus({ preventScroll: true });
  }

  map.on("mousemove", (event) => {
    if (!tool || finger) return;
    const hit = gripped(event.latlng, tool.layer), growth = growing();
    hint.clearLayers();
    if (hit.onto) hint.addLayer(L.circleMarker([hit.place[1], hit.place[0]], { radius: 11, weight: 3, color: "#fff", fill: false, interactive: false }));
    if (!growth) return say(ontoWords(hit), { quietly: true });
    const places = growth.parts[0], last = tool.front ? places[0] : places.at(-1), leg = geodesic(last, hit.place);
    hint.addLayer(L.polyline([last, hit.place].map((one) => [one[1], one[0]]), { color: "#fff", weight: 3, dashArray: "7 7", interactive: false }));
    const all = lengthOf(legsOf(places, false)) + leg.metres, area = places.length > 1 && tool.shape !== "line" ? ` · ${sayArea(areaWithin([...places, hit.place]))}` : "";
    return say(`Leg ${sayMetres(leg.metres)} at ${sayBearing(leg.bearing)} · ${sayMetres(all)} in all${area}${hit.onto ? ` · ${ontoWords(hit)}` : ""}`, { quietly: true });
  });
  for (const act of ["pointerdown", "pointermove"]) map.getContainer().addEventListener(act, (event) => { finger = event.pointerType === "touch"; }, { capture: true, passive: true });
  map.on("click", (event) => place(event.latlng));
  map.on("moveend", handles);
  show();
  return {
    begin, goOn, end, leave, choose, change, take, nameOf,
    placeHere: () => place(map.getCenter()),
    undo: () => step(past, ahead, "Undone"),
    redo: () => step(ahead, past, "Done again"),
    grip: (on) => { gripping = on; },
    view: () => ({ state, chosen: chosen && found(state, chosen), held, tool, growing: growing(), past: past.length, ahead: ahead.length }),
  };
}
