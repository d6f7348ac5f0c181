"use strict";
// The plan on the map. Data is read as JSON and shown as text: nothing from a file is ever taken as markup.
const INK = "#211b2e", BRICK = "#9c2f1f", OCHRE = "#d99a1e", PLUM = "#6a5480", PAPER = "#fffdf7", WATER = "#2f5f8f", SAND = "#8a6a45";
const DASH = { boundary: null, agreed: "15 8", internal: "13 7 3 7", unsaid: null };
const HAZARDS = [
  "overhead power", "overhead phone", "parallel power", "tree limb", "tree trunk", "side slope", "crossing", "buried service", "keep-out",
  "survey mark", "access",
];
const slug = (kind) => (HAZARDS.includes(kind) ? kind.replace(" ", "-") : "other");

function make(tag, name, ...children) {
  const element = document.createElement(tag);
  if (name) element.className = name;
  element.append(...children);
  return element;
}

function drawing(sign, name, width, height) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", "#" + sign);
  svg.setAttribute("width", width);
  svg.setAttribute("height", height);
  svg.setAttribute("class", name);
  svg.append(use);
  return svg;
}

// ---- marks on the one canvas -------------------------------------------------------------------------------------

const SHAPES = {
  round(pen, p, r) { pen.arc(p.x, p.y, r, 0, 2 * Math.PI); },
  square(pen, p, r) { pen.rect(p.x - r, p.y - r, 2 * r, 2 * r); },
  diamond(pen, p, r) { polygon(pen, p, r, 4, 0); },
  triangle(pen, p, r) { polygon(pen, p, r, 3, 0); },
  peg(pen, p, r) { polygon(pen, p, r, 3, Math.PI); },
  hexagon(pen, p, r) { polygon(pen, p, r, 6, 0); },
  cross(pen, p, r) {
    pen.moveTo(p.x - r, p.y - r); pen.lineTo(p.x + r, p.y + r);
    pen.moveTo(p.x + r, p.y - r); pen.lineTo(p.x - r, p.y + r);
  },
  ring(pen, p, r) {
    pen.arc(p.x, p.y, r, 0, 2 * Math.PI);
    pen.moveTo(p.x + r / 3, p.y);
    pen.arc(p.x, p.y, r / 3, 0, 2 * Math.PI);
  },
  note(pen, p, r) { pen.rect(p.x - r, p.y - r, 2 * r, 1.4 * r); pen.moveTo(p.x - r / 2, p.y + r); pen.lineTo(p.x, p.y + r * 0.4); },
};

function polygon(pen, p, r, corners, turned) {
  for (let corner = 0; corner < corners; corner += 1) {
    const angle = turned + (2 * Math.PI * corner) / corners;
    pen[corner ? "lineTo" : "moveTo"](p.x + r * Math.sin(angle), p.y - r * Math.cos(angle));
  }
  pen.closePath();
}

const Mark = L.CircleMarker.extend({
  _project() {
    this._radius = this.options.size * this.options.scale();
    L.CircleMarker.prototype._project.call(this);
  },
  _updatePath() {
    const canvas = this._renderer;
    if (!canvas._drawing || this._empty() || this.options.hidden()) return;
    canvas._ctx.beginPath();
    SHAPES[this.options.shape](canvas._ctx, this._point, this._radius);
    canvas._fillStroke(canvas._ctx, this);
    if (this.options.letter) this._writeLetter(canvas._ctx);
  },
  _writeLetter(pen) {
    pen.globalAlpha = 1;
    pen.fillStyle = this.options.ink;
    pen.font = `700 ${(1.3 * Math.min(this._radius, 10)).toFixed(1)}px sans-serif`;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(this.options.letter, this._point.x, this._point.y + 0.5);
  },
});

const POSTS = {
  l: { name: "Line post", shape: "round", size: 3.6, weight: 1.6, color: INK, fillColor: "#fff" },
  s: { name: "Strainer", shape: "square", size: 6, weight: 1.2, color: "#fff", fillColor: INK },
  g: { name: "Gate post", shape: "square", size: 4.6, weight: 2.6, color: INK, fillColor: "#fff" },
  j: { name: "Junction post", shape: "hexagon", size: 6, weight: 1.2, color: "#fff", fillColor: INK },
  b: { name: "Brace post", shape: "cross", size: 4, weight: 2.6, color: INK, fill: false },
  k: { name: "Key post", shape: "triangle", size: 6.4, weight: 1.2, color: "#fff", fillColor: PLUM },
};
const MARKS = {
  corner: { shape: "diamond", size: 9, weight: 2, color: INK, fillColor: OCHRE },
  strainer: { shape: "square", size: 5.2, weight: 1.2, color: "#fff", fillColor: INK },
  node: { shape: "ring", size: 9.5, weight: 2.4, color: INK, fillOpacity: 0 },
  pole: { shape: "ring", size: 6, weight: 2.2, color: PLUM, fillColor: "#fff" },
  peg: { shape: "peg", size: 8, weight: 2, color: INK, fillColor: "#fff" },
  walk: { shape: "note", size: 5.5, weight: 1.6, color: INK, fillColor: PAPER },
};
const BESIDE = {
  watercourses: { color: WATER, weight: 2.4 },
  services: { color: PLUM, weight: 1.8, dashArray: "7 3 1.5 3 1.5 3" },
  keepout: { color: BRICK, weight: 1.6, dashArray: "5 3" },
  tracks: { color: SAND, weight: 2.4, dashArray: "9 4" },
  existing: { color: INK, weight: 1.4, dashArray: "1.5 4" },
};

function unpackPosts(posts) {
  let lat = 0, lon = 0;
  return posts.id.map((id, row) => {
    lat += posts.lat[row];
    lon += posts.lon[row];
    return { id, at: [lat / 1e7, lon / 1e7], kind: posts.kind[row], run: posts.run[row], tape: posts.tape[row], grade: posts.grade[row],
      deep: posts.deep[row], soil: posts.soil[row] === null ? "not checked" : posts.soils[posts.soil[row]] };
  });
}

function sayPost(post, runs) {
  const facts = [];
  if (runs[post.run]) facts.push(["Run", runs[post.run].id]);
  facts.push(["Running tape", `${(post.tape / 100).toFixed(2)}\u00a0m from the run's first post`]);
  const steep = post.grade === null ? "not known" : Math.abs(post.grade) < 1 ? "level"
    : `${(Math.abs(post.grade) / 10).toFixed(1)}\u00a0% ${post.grade > 0 ? "up" : "down"}`;
  facts.push(["Ground to the next post", steep]);
  facts.push(["In the ground", post.deep === null ? "not known" : `${(post.deep / 100).toFixed(2)}\u00a0m`], ["Soil", post.soil]);
  return { title: `Post ${post.id}`, lead: POSTS[post.kind].name, facts };
}

// ---- what a popup says -------------------------------------------------------------------------------------------

function said(...each) {
  const body = make("div", "say");
  for (const say of each) {
    const part = make("div", "part", make("h3", "", make("bdi", "", say.title)));
    if (say.lead) part.append(make("p", "", make("bdi", "", say.lead)));
    if (say.advice) part.append(make("p", "do", say.advice));
    const list = make("dl", "");
    for (const [name, text] of say.facts) list.append(make("dt", "", name), make("dd", "", make("bdi", "", text)));
    part.append(list);
    body.append(part);
  }
  return body;
}

function middle(places) {
  const steps = places.slice(1).map((place, row) => Math.hypot(place[0] - places[row][0], place[1] - places[row][1]));
  let half = steps.reduce((sum, step) => sum + step, 0) / 2;
  for (let row = 0; row < steps.length; row += 1) {
    if (half <= steps[row] && steps[row] > 0) {
      const share = half / steps[row];
      return [0, 1].map((axis) => places[row][axis] + share * (places[row + 1][axis] - places[row][axis]));
    }
    half -= steps[row];
  }
  return places[0];
}

function draw(map, groups, data) {
  const panes = { given: 405, bands: 410, runs: 420, posts: 430, words: 590, tools: 610, place: 640 };
  for (const [name, height] of Object.entries(panes)) map.createPane(name).style.zIndex = height;
  for (const name of ["posts", "words", "tools", "place"]) map.getPane(name).style.pointerEvents = "none";
  const svg = Object.fromEntries(["given", "bands", "runs"].map((pane) => [pane, L.svg({ pane, padding: 0.3 })]));
  const canvas = L.canvas({ pane: "posts", padding: 0.2 });
  const posts = unpackPosts(data.posts);
  const screen = { bay: 0, metres: 0 };
  const measure = () => {
    const metresPerPixel = (40075016.7 * Math.cos((map.getCenter().lat * Math.PI) / 180)) / (256 * 2 ** map.getZoom());
    screen.metres = metresPerPixel;
    screen.bay = (data.posts.bay_m || 5) / metresPerPixel;
  };
  measure();
  map.on("zoom zoomend viewreset", measure);
  const line = (places, pane, options) => L.polyline(places, { pane, renderer: svg[pane], interactive: false, lineCap: "butt", ...options });
  const mark = (place, options, more) => new Mark(place, {
    pane: "posts", renderer: canvas, interactive: false, fill: true, fillOpacity: 1, opacity: 1,
    scale: () => Math.min(1.25, Math.max(0.72, screen.bay / 22)), hidden: () => false, ...options, ...more,
  });

  for (const course of data.given.drawn) line(course, "given", { color: INK, weight: 2, dashArray: "2 5" }).addTo(groups.drawn);
  for (const wire of data.given.overhead) {
    if (wire.at.length < 2) { mark(wire.at[0], MARKS.pole, { scale: () => 1 }).addTo(groups.given); continue; }
    line(wire.at, "given", { color: "#fff", weight: 5, opacity: 0.75 }).addTo(groups.given);
    line(wire.at, "given", { color: PLUM, weight: 2.5, dashArray: "11 5 1 5", lineCap: "round" }).addTo(groups.given);
  }
  for (const one of data.given.beside) {
    const look = { pane: "given", renderer: svg.given, interactive: false, fill: Boolean(one.area || one.radius_m), fillOpacity: 0.12, ...BESIDE[one.look] };
    if (one.at.length > 1 && !one.area) line(one.at, "given", { color: "#fff", weight: look.weight + 2, opacity: 0.55 }).addTo(groups.given);
    (one.area ? L.polygon(one.at, look) : one.at.length > 1 ? L.polyline(one.at, look)
      : one.radius_m ? L.circle(one.at[0], { ...look, radius: one.radius_m }) : L.circleMarker(one.at[0], { ...look, radius: 5 })).addTo(groups.given);
  }
  for (const tree of data.given.trees) {
    const look = { pane: "given", renderer: svg.given, interactive: false, color: PLUM, weight: 1.8, dashArray: "4 3", fillColor: PLUM, fillOpacity: 0.2 };
    (tree.radius_m ? L.circle(tree.at[0], { ...look, radius: tree.radius_m })
      : tree.at.length > 2 ? L.polygon(tree.at, look) : L.circleMarker(tree.at[0], { ...look, radius: 7 })).addTo(groups.given);
  }
  for (const hazard of data.hazards) {
    line(hazard.at, "bands", { color: BRICK, weight: 22, opacity: 0.95 }).addTo(groups.hazards);
    line(hazard.at, "bands", { color: `url(#band-${slug(hazard.kind)})`, weight: 18 }).addTo(groups.hazards);
  }
  for (const run of data.runs) {
    line(run.at, "runs", { color: "#fff", weight: 8, opacity: 0.9 }).addTo(groups.runs);
    line(run.at, "runs", { color: INK, weight: run.label === "unsaid" ? 5 : 4, dashArray: DASH[run.label] }).addTo(groups.runs);
    if (run.label === "unsaid") line(run.at, "runs", { color: "#fff", weight: 1.5 }).addTo(groups.runs);
  }
  for (const gate of data.gates) {
    line(gate.at, "runs", { color: "#fff", weight: 6 }).addTo(groups.gates);
    line(gate.at, "runs", { color: INK, weight: 2, dashArray: "3 3" }).addTo(groups.gates);
  }
  const crowded = () => screen.bay < 6;
  for (const post of posts) {
    if (post.kind !== "s") mark(post.at, POSTS[post.kind], post.kind === "l" ? { hidden: crowded } : { hidden: () => screen.bay < 2.5 }).addTo(groups.posts);
  }
  const steady = { scale: () => 1 };
  for (const strainer of data.strainers) mark(strainer.at, MARKS.strainer).addTo(groups.strainers);
  for (const corner of data.corners) mark(corner.at, MARKS.corner, { scale: () => Math.max(0.6, Math.min(1, screen.bay / 14)) }).addTo(groups.strainers);
  for (const node of data.nodes) mark(node.at, MARKS.node, steady).addTo(groups.strainers);
  for (const peg of data.given.pegs) mark(peg.at[0], MARKS.peg, steady).addTo(groups.given);
  for (const seen of data.given.walk) mark(seen.at[0], MARKS.walk, { ...steady, hidden: () => screen.metres > 0.8 }).addTo(groups.given);
  drawFound(groups, data, { line, mark, svg, screen });
  return { posts, canvas, crowded, screen };
}
