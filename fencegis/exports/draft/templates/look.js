// How each layer looks on the map and in its row of the panel: colour, dash and shape each tell it from the others.
const INK = "#211b2e", BRICK = "#9c2f1f", OCHRE = "#f0b429", PLUM = "#6a5480", WATER = "#2f5f8f", SAND = "#8a6a45", PAPER = "#fffdf7";
const LOOKS = {
  boundary: { color: INK, weight: 4 },
  gates: { color: INK, shape: "square", fill: OCHRE },
  pegs: { color: INK, shape: "peg", fill: "#fff" },
  overhead: { color: PLUM, weight: 3, dash: "11 5 1 5", shape: "square", fill: PLUM },
  trees: { color: PLUM, weight: 2, dash: "4 3", shape: "round", fill: "#e2d9ec" },
  soils: { color: SAND, weight: 2, dash: "2 5" },
  walk: { color: INK, shape: "note", fill: PAPER },
  watercourses: { color: WATER, weight: 3.4 },
  services: { color: PLUM, weight: 2.2, dash: "7 3 1.5 3 1.5 3", shape: "diamond", fill: "#fff" },
  keepout: { color: BRICK, weight: 2.2, dash: "5 3", shape: "cross", fill: BRICK },
  tracks: { color: SAND, weight: 3.4, dash: "9 5" },
  existing: { color: INK, weight: 2.4, dash: "1.5 5" },
};
const OUTLINES = { // of a mark, in parts of its radius
  square: [[-0.8, -0.8], [0.8, -0.8], [0.8, 0.8], [-0.8, 0.8]],
  peg: [[-1, -0.9], [1, -0.9], [0, 1]],
  diamond: [[0, -1], [1, 0], [0, 1], [-1, 0]],
  note: [[-1, -1], [1, -1], [1, 0.6], [0.2, 0.6], [-0.3, 1.2], [-0.3, 0.6], [-1, 0.6]],
  cross: [[-1, -0.6], [-0.6, -1], [0, -0.4], [0.6, -1], [1, -0.6], [0.4, 0], [1, 0.6], [0.6, 1], [0, 0.4], [-0.6, 1], [-1, 0.6], [-0.4, 0]],
  round: Array.from({ length: 20 }, (_, row) => [Math.cos((row * Math.PI) / 10), Math.sin((row * Math.PI) / 10)]),
};

const Mark = L.CircleMarker.extend({
  _updatePath() {
    const canvas = this._renderer, pen = canvas._ctx;
    if (!canvas._drawing || this._empty()) return;
    pen.beginPath();
    for (const [x, y] of OUTLINES[this.options.shape]) pen.lineTo(this._point.x + x * this._radius, this._point.y + y * this._radius);
    pen.closePath();
    canvas._fillStroke(pen, this);
  },
});

function pathsOf(feature, layer, isChosen) {
  const look = LOOKS[layer.name] || { color: INK, weight: 2 }, flat = { interactive: false, lineCap: "butt" };
  const at = (place) => [place[1], place[0]];
  if (isPoint(feature)) {
    const size = { radius: 9, fillOpacity: 1, fillColor: look.fill || PAPER, shape: look.shape || "round" };
    const around = feature.properties.spread_m ? feature.properties.spread_m / 2 : feature.properties.radius_m;
    return feature.parts.flatMap(([place]) => [
      ...(around > 0 ? [L.circle(at(place), { ...flat, radius: around, color: look.color, weight: 2, dashArray: look.dash, fillOpacity: 0.15 })] : []),
      new Mark(at(place), { ...flat, ...size, color: isChosen ? OCHRE : "#fff", weight: 6, fill: false }),
      new Mark(at(place), { ...flat, ...size, color: look.color, weight: 2 }),
    ]);
  }
  const lines = feature.parts.map((places) => places.map(at));
  const draw = (options) => (isArea(feature) ? L.polygon(polygonsOf(feature, lines), { ...flat, fill: layer.name !== "boundary", fillOpacity: 0.14, ...options }) : L.polyline(lines, { ...flat, ...options }));
  return [
    draw({ color: isChosen ? OCHRE : "#fff", weight: look.weight + (isChosen ? 6 : 4), opacity: 0.9, fill: false }),
    draw({ color: look.color, weight: look.weight, dashArray: look.dash }),
  ];
}

function inDrawingOrder(features, chosen) {
  // Outlines lowest, then lines, the fence, marks; what is chosen on top of all.
  const rank = (one) => (one.id === chosen ? 4 : isPoint(one) ? 3 : one.layer === "boundary" ? 2 : isArea(one) ? 0 : 1);
  return [...features].sort((one, other) => rank(one) - rank(other));
}

const polygonsOf = (feature, parts) => [...new Set(feature.polygons)].map((number) => parts.filter((_, row) => feature.polygons[row] === number));

function swatch(layer) {
  // The layer's sign for its row of the panel.
  const look = LOOKS[layer.name] || { color: INK, weight: 2 }, hasLine = layer.shapes.some((shape) => shape !== "mark");
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const add = (tag, marks) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(marks)) element.setAttribute(name, value);
    svg.append(element);
  };
  for (const [name, value] of Object.entries({ width: 46, height: 24, viewBox: "0 0 46 24", "aria-hidden": "true", class: "swatch" })) svg.setAttribute(name, value);
  if (hasLine) add("path", { d: "M2 12h42", fill: "none", stroke: look.color, "stroke-width": look.weight || 2, ...(look.dash ? { "stroke-dasharray": look.dash } : {}) });
  const marks = layer.shapes.includes("mark") && look.shape;
  if (marks) add("path", { d: `M${OUTLINES[look.shape].map(([x, y]) => `${(23 + 8 * x).toFixed(1)} ${(12 + 8 * y).toFixed(1)}`).join("L")}z`, fill: look.fill, stroke: look.color, "stroke-width": 2 });
  return svg;
}
