// The drawing as one value that is never altered: each function returns the next one.
// A feature is { id, layer, type, parts, polygons, properties }: `parts` are its points, lines or rings as lists of
// [longitude, latitude] (and a height where a file gave one), a ring's first place not repeated; `polygons` says which
// polygon a part belongs to; the first ring of a polygon is its outline, the others are left out of it.
const EMPTY = Object.freeze({ next: 1, features: Object.freeze([]) });
const isPoint = (feature) => feature.type.endsWith("Point");
const isArea = (feature) => feature.type.endsWith("Polygon");
const isOutline = (feature, part) => feature.polygons.indexOf(feature.polygons[part]) === part;
const leastOf = (feature) => (isPoint(feature) ? 1 : isArea(feature) ? 3 : 2);
const samePlace = (one, other) => one[0] === other[0] && one[1] === other[1];
const found = (state, id) => state.features.find((feature) => feature.id === id);
const ofLayer = (state, layer) => state.features.filter((feature) => feature.layer === layer);

function swapped(state, id, by) {
  return Object.freeze({ ...state, features: Object.freeze(state.features.flatMap((one) => (one.id === id ? (by ? [Object.freeze(by)] : []) : [one]))) });
}

function withPart(state, id, part, places) {
  const feature = found(state, id);
  return swapped(state, id, { ...feature, parts: feature.parts.map((old, row) => (row === part ? places : old)) });
}

function begun(state, layer, type, place) {
  const feature = { id: state.next, layer, type, parts: [[place]], polygons: [0], properties: {} };
  return Object.freeze({ next: state.next + 1, features: Object.freeze([...state.features, Object.freeze(feature)]) });
}

function inserted(state, { id, part, vertex }, place) {
  const places = found(state, id).parts[part];
  return withPart(state, id, part, [...places.slice(0, vertex), place, ...places.slice(vertex)]);
}

function moved(state, { id, part, vertex }, place) {
  // Moves a vertex, and with it every vertex of its layer that stands at the same place: lines that meet stay met.
  const feature = found(state, id), from = feature.parts[part][vertex];
  const there = (old) => [...place.slice(0, 2), ...old.slice(2)];
  const features = state.features.map((one) => (one.layer !== feature.layer || isPoint(one) !== isPoint(feature) || (isPoint(one) && one.id !== id) ? one : Object.freeze({
    ...one,
    parts: one.parts.map((places, row) => places.map((old, at) => {
      const itself = one.id === id && row === part && at === vertex;
      return itself || (samePlace(old, from) && !isPoint(one)) ? there(old) : old;
    })),
  })));
  return Object.freeze({ ...state, features: Object.freeze(features) });
}

function without(state, { id, part, vertex }) {
  // Takes a vertex away; a part too small without it goes too, and with the outline all that is within it.
  const feature = found(state, id), places = feature.parts[part];
  if (places.length > leastOf(feature)) return withPart(state, id, part, places.filter((_, row) => row !== vertex));
  const polygon = feature.polygons[part], whole = isOutline(feature, part);
  const kept = feature.parts.map((_, row) => (isArea(feature) && whole ? feature.polygons[row] !== polygon : row !== part));
  if (!kept.some(Boolean)) return swapped(state, id, null);
  const only = (list) => list.filter((_, row) => kept[row]);
  return swapped(state, id, { ...feature, parts: only(feature.parts), polygons: only(feature.polygons) });
}

const closed = (state, id) => swapped(state, id, { ...found(state, id), type: "Polygon" });
const turnedRound = (state, id) => {
  const feature = found(state, id);
  return swapped(state, id, { ...feature, parts: feature.parts.map((places) => [...places].reverse()) });
};

function withProperty(state, id, name, value) {
  const feature = found(state, id), properties = { ...feature.properties };
  if (value === null) delete properties[name];
  else properties[name] = value;
  return swapped(state, id, { ...feature, properties });
}

function withLayer(state, layer, features) {
  // Puts features without an id in the place of what the layer held.
  const added = features.map((feature, row) => Object.freeze({ ...feature, id: state.next + row }));
  return Object.freeze({ next: state.next + added.length, features: Object.freeze([...state.features.filter((one) => one.layer !== layer), ...added]) });
}

function finished(state, layers) {
  // What a page that was shut in the middle of a line left: an outline of three places or more is closed, what is no
  // line yet is taken away.
  let next = state;
  for (const feature of state.features) {
    if (isPoint(feature) || feature.parts.length > 1) continue;
    const count = feature.parts[0].length, layer = layers.find((one) => one.name === feature.layer);
    if (isArea(feature) || (layer.geometries.includes(feature.type) && count > 1)) continue;
    next = layer.geometries.includes("LineString") || count < 3 ? swapped(next, feature.id, null) : closed(next, feature.id);
  }
  return next;
}

function sayOf(feature) {
  // What it measures, in words.
  if (isPoint(feature)) return "";
  const legs = feature.parts.flatMap((places) => legsOf(places, isArea(feature)));
  const length = sayMetres(lengthOf(legs));
  if (!isArea(feature)) return `${length}, ${legs.length} ${legs.length === 1 ? "leg" : "legs"}`;
  const area = feature.parts.reduce((sum, places, row) => sum + Math.abs(areaWithin(places)) * (isOutline(feature, row) ? 1 : -1), 0);
  return `${length} round, ${sayArea(area)} within`;
}
