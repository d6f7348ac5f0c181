// The drawing as files and back: GeoJSON by RFC 7946, a file a layer, named as a site folder has them; and the
// browser's own storage, so that nothing is lost when the page is shut.
const short = (text, most = 60) => {
  // On one line; what would turn its neighbours round (UAX 9) is shown as the replacement mark.
  const line = String(text).replace(/[\p{Cc}\p{Z}]+/gu, " ").replace(/[\u202a-\u202e\u2066-\u2069]/g, "\ufffd").trim();
  return line.length <= most ? line : `${line.slice(0, most - 1)}…`;
};
const rounded = (place) => [...place.slice(0, 2).map((degrees, axis) => Number((axis ? degrees : degrees - 360 * Math.round(degrees / 360)).toFixed(8))), ...place.slice(2).map((metres) => Number(metres.toFixed(3)))];

function geometryOf(feature) {
  // Rings are closed; outlines run anticlockwise and what is left out of them clockwise.
  const parts = feature.parts.map((places, part) => {
    const fine = places.map(rounded).filter((place, row, all) => !row || !samePlace(place, all[row - 1]));
    if (!isArea(feature)) return isPoint(feature) ? fine[0] : fine;
    const ring = areaWithin(fine) > 0 === isOutline(feature, part) ? fine : [...fine].reverse();
    return [...ring, ring[0]];
  });
  const nested = isArea(feature) ? polygonsOf(feature, parts) : parts, single = feature.type.replace("Multi", "");
  return nested.length === 1 ? { type: single, coordinates: nested[0] } : { type: `Multi${single}`, coordinates: nested };
}

function fileText(state, layer) {
  const features = ofLayer(state, layer.name).map((feature) => JSON.stringify({ type: "Feature", properties: feature.properties, geometry: geometryOf(feature) }));
  return `{"type": "FeatureCollection", "features": [\n${features.join(",\n")}\n]}\n`;
}

function faultOf(field, value) {
  // What is wrong with a property, as the reader of a site folder would find it; null when nothing is. A quality level
  // may be written in more ways than one: the reader knows them.
  const about = `${field.label} is ${short(JSON.stringify(value), 40)}`;
  if (value === undefined || value === null) return field.needed ? `${field.label} is not given` : null;
  if (field.holds === "flag") return typeof value === "boolean" ? null : `${about}: yes or no`;
  if (field.holds === "text") return ["string", "number"].includes(typeof value) ? (field.longest && String(value).length > field.longest ? `${about}: at most ${field.longest} characters` : null) : `${about}: no text`;
  if (field.holds === "word") return field.words.includes(typeof value === "string" ? value.trim().replace(/\s+/g, " ").toLowerCase() : value) || field.name === "quality" ? null : `${about}: one of ${field.words.join(", ")}`;
  if (typeof value !== "number" || !Number.isFinite(value)) return `${about}: no number`;
  if (field.holds === "whole" && !Number.isInteger(value)) return `${about}: no whole number`;
  if (field.above !== null && value <= field.above) return `${about}: more than ${field.above}`;
  if (field.least !== null && value < field.least) return `${about}: at least ${field.least}`;
  return field.most !== null && value > field.most ? `${about}: at most ${field.most}` : null;
}

function faultsOf(feature, layer) {
  const faults = layer.fields.map((field) => faultOf(field.needed || isArea(feature) || !layer.off_areas.includes(field.name) ? field : { ...field, needed: true }, feature.properties[field.name])).filter(Boolean);
  if (feature.parts.some((places) => places.length < leastOf(feature))) faults.push("it has too few corners");
  return faults;
}

// ---- opening ---------------------------------------------------------------------------------------------------------

function placesOf(raw, role) {
  // Positions as listed in a file; throws the fault as text.
  if (!Array.isArray(raw) || !raw.length) throw "its coordinates are empty";
  const places = raw.map((position) => {
    if (!Array.isArray(position) || position.length < 2 || !position.slice(0, 3).every(Number.isFinite)) throw "a position is not two numbers";
    if (Math.abs(position[0]) > 180 || Math.abs(position[1]) > 90) throw `${position.slice(0, 2).join(", ")} is no longitude and latitude`;
    return position.slice(0, 3);
  });
  if (role === "ring" && places.length > 1 && samePlace(places[0], places.at(-1))) places.pop();
  if (role !== "point" && places.length < (role === "ring" ? 3 : 2)) throw "it has too few corners";
  return places;
}

function readGeometry(geometry, layer) {
  const type = geometry && geometry.type, raw = geometry && geometry.coordinates;
  if (!layer.geometries.includes(type)) throw `its geometry is ${type ? short(type) : "missing"}; ${layer.title.toLowerCase()} are ${layer.geometries.filter((one) => !one.startsWith("Multi")).join(" or ")}`;
  if (!Array.isArray(raw) || !raw.length) throw "its coordinates are empty";
  if (isPoint({ type })) return { type, parts: (type === "Point" ? [raw] : raw).map((one) => placesOf([one], "point")) };
  if (!isArea({ type })) return { type, parts: (type === "LineString" ? [raw] : raw).map((one) => placesOf(one, "line")) };
  const polygons = type === "Polygon" ? [raw] : raw, parts = [], numbers = [];
  polygons.forEach((rings, number) => {
    if (!Array.isArray(rings) || !rings.length) throw "its coordinates are empty";
    for (const ring of rings) { parts.push(placesOf(ring, "ring")); numbers.push(number); }
  });
  return { type, parts, polygons: numbers };
}

function readFile(name, text, layers) {
  // Returns { layer, features, faults } of an opened file; `layer` null when nothing of it can be used.
  const stem = name.replace(/\.(geo)?json$/i, "").replace(/\s*\(\d+\)$/, "").toLowerCase(), layer = layers.find((one) => one.name === stem);
  const refused = (fault) => ({ layer: null, features: [], faults: [`${short(name)}: ${fault}`] });
  if (!layer) return refused(`no layer goes by that name. Fix: name it ${layers.map((one) => one.file).join(", ")}.`);
  let document;
  try {
    document = JSON.parse(text.replace(/^\ufeff/, ""));
  } catch (error) {
    return refused("it is not JSON. Fix: export the layer again as GeoJSON.");
  }
  if (!document || typeof document !== "object") return refused("it is JSON but no GeoJSON. Fix: export the layer again.");
  const system = document.crs && JSON.stringify(document.crs);
  if (system && !/CRS84|4326/.test(system)) return refused("it states a system of its own. Fix: export it as longitude and latitude (WGS 84).");
  const list = document.type === "FeatureCollection" ? document.features : document.type === "Feature" ? [document] : [{ type: "Feature", properties: {}, geometry: document }];
  if (!Array.isArray(list)) return refused("it holds no list of features. Fix: export the layer again as GeoJSON.");
  const features = [], faults = [];
  list.forEach((raw, row) => {
    const properties = raw && typeof raw.properties === "object" && !Array.isArray(raw.properties) ? { ...raw.properties } : {};
    const label = `${short(name)}, feature ${row + 1}${properties.name ? ` (${short(properties.name, 40)})` : ""}`;
    try {
      if (!raw || raw.type !== "Feature") throw "it is no GeoJSON feature";
      const read = readGeometry(raw.geometry, layer);
      const feature = { layer: layer.name, polygons: read.parts.map(() => 0), ...read, properties };
      for (const fault of faultsOf(feature, layer)) faults.push(`${label}: ${fault}. Fix: mend it here, under Chosen.`);
      features.push(feature);
    } catch (fault) {
      if (typeof fault !== "string") throw fault;
      faults.push(`${label}: ${fault}. Left out. Fix: mend it where it was drawn, or draw it again here.`);
    }
  });
  return { layer, features, faults };
}

// ---- kept in the browser ---------------------------------------------------------------------------------------------

function cabinet(key) {
  let refused = null;
  return {
    load() {
      try {
        const kept = JSON.parse(localStorage.getItem(key));
        return kept && Array.isArray(kept.state.features) ? kept : null;
      } catch (error) {
        refused = error;
        return null;
      }
    },
    keep(state, saved) {
      try {
        localStorage.setItem(key, JSON.stringify({ state, saved }));
        refused = null;
      } catch (error) {
        refused = error;
      }
    },
    refused: () => Boolean(refused),
  };
}
