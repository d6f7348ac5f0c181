// Signs and words on the map: hazards and gates on plates, labels where there is room, nothing over anything else.

class Room {
  // Boxes taken on the screen, kept by cells so that asking is quick.
  constructor() { this.cells = new Map(); }
  each(box, act) {
    for (let col = Math.floor(box[0] / 64); col <= Math.floor(box[2] / 64); col += 1) {
      for (let row = Math.floor(box[1] / 64); row <= Math.floor(box[3] / 64); row += 1) act(`${col},${row}`);
    }
  }
  take(...boxes) {
    for (const box of boxes) this.each(box, (cell) => this.cells.set(cell, [...(this.cells.get(cell) || []), box]));
  }
  free(...boxes) {
    return boxes.every((box) => {
      let clear = true;
      this.each(box, (cell) => {
        for (const other of this.cells.get(cell) || []) {
          if (box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3]) clear = false;
        }
      });
      return clear;
    });
  }
}

const middleOf = (a, b) => L.point((a.x + b.x) / 2, (a.y + b.y) / 2);
const around = (point, half, tall = half) => [point.x - half, point.y - tall, point.x + half, point.y + tall];

function alongBoxes(point, width, height, angle) {
  // A turned label as a row of small boxes.
  const pieces = Math.max(1, Math.ceil(width / height));
  const step = (width - height) / Math.max(1, pieces - 1);
  return Array.from({ length: pieces }, (_, piece) => {
    const along = pieces === 1 ? 0 : -width / 2 + height / 2 + piece * step;
    return around({ x: point.x + along * Math.cos(angle), y: point.y + along * Math.sin(angle) }, height / 2 + 1);
  });
}

// A plate goes below the line where above it would hide more.
const turned = (above, below, others) => others.filter((box) => overlap(above, box)).length > others.filter((box) => overlap(below, box)).length;

class Words {
  constructor(map, groups, data, open) {
    Object.assign(this, { map, groups, data, labels: [] });
    this.pen = document.createElement("canvas").getContext("2d");
    this.pen.font = `700 15px ${getComputedStyle(document.body).fontFamily}`;
    this.widths = new Map();
    this.signs = [
      ...data.hazards.map((row) => this.sign(row, "hazard", `glyph-${slug(row.kind)}`, `${row.id}, ${row.kind}`, open)),
      ...data.gates.map((row) => this.sign(row, "gate", "glyph-gate", `Gate ${row.id}`, open)),
    ];
    this.place();
    map.on("moveend resize overlayadd overlayremove", () => this.place());
  }

  sign(row, kind, glyph, words, open) {
    const plate = make("div", "plate", drawing(`plate-${kind}`, "", 44, 54), drawing(glyph, kind === "gate" ? "dark" : "light", 26, 26));
    const count = make("b", "count");
    plate.append(count);
    const icon = L.divIcon({ html: plate, className: `sign ${kind}`, iconSize: [44, 54], iconAnchor: [22, kind === "gate" ? -6 : 58] });
    const marker = L.marker(middle(row.at), { icon, alt: words, title: words, keyboard: true, riseOnHover: true });
    const use = plate.querySelectorAll("use")[1];
    const sign = { row, kind, marker, count, use, glyph, group: kind === "gate" ? "gates" : "hazards", hidden: [] };
    marker.on("click keypress", (event) => {
      if (event.type === "click" || event.originalEvent.key === "Enter") open([row, ...sign.hidden], middle(row.at), kind === "gate" || sign.under ? 4 : -50);
    });
    marker.addTo(this.groups[sign.group]);
    return sign;
  }

  width(text) {
    if (!this.widths.has(text)) this.widths.set(text, this.pen.measureText(text).width + 6);
    return this.widths.get(text);
  }

  write(text, point, angle, name) {
    const span = make("span", `label ${name}`, text);
    span.style.transform = `translate(-50%, -50%) rotate(${angle}rad)`;
    const icon = L.divIcon({ html: make("div", "", span), className: "word", iconSize: [0, 0] });
    this.labels.push(L.marker(this.map.containerPointToLatLng(point), { icon, interactive: false, keyboard: false, pane: "words" }).addTo(this.map));
  }

  shown(group) { return this.map.hasLayer(this.groups[group]); }
  at(place) { return this.map.latLngToContainerPoint(place); }

  place() {
    for (const label of this.labels) label.remove();
    this.labels = [];
    const size = this.map.getSize();
    this.view = L.bounds([4, 4], [size.x - 4, size.y - 4]);
    this.room = new Room();
    this.takeControls();
    this.placeSigns();
    this.takeLines();
    this.room.take(...this.treesInView());
    for (const corner of this.data.corners) this.room.take(around(this.at(corner.at), 8));
    if (this.shown("strainers")) for (const node of this.data.nodes) this.room.take(around(this.at(node.at), 10));
    // One run is named before anything else, so that whoever looks knows what the names of runs look like.
    const runs = this.shown("runs") ? this.runsInView() : [];
    const first = runs.find((run) => this.nameRun(run)) || runs.find((run) => this.beside(run.id, middleOf(...run.part), 12, "run"));
    this.nameSigns();
    for (const run of runs) if (run !== first) this.nameRun(run);
    this.nameFound();
    if (!this.shown("strainers")) return;
    for (const corner of this.data.corners) this.beside(corner.id, this.at(corner.at), 11, "corner");
    for (const node of this.data.nodes) this.beside(node.id, this.at(node.at), 12, "corner");
    const near = this.data.strainers.filter((strainer) => this.view.contains(this.at(strainer.at)));
    if (near.length < 60) for (const strainer of near) this.beside(strainer.id, this.at(strainer.at), 9, "strainer");
  }

  nameFound() {
    const named = [["crossings", this.data.crossings, "", 12], ["trees", this.data.trees, "", 11], ["headroom", this.data.headroom, "air ", 12], ["access", this.data.access, "", 12]];
    for (const [group, rows, before, gap] of named) {
      if (!this.shown(group)) continue;
      const near = rows.map((row) => [row, this.at(typeof row.at[0] === "number" ? row.at : middle(row.at))]).filter(([, point]) => this.view.contains(point));
      if (near.length < 60) for (const [row, point] of near) this.beside(before + row.id, point, gap, "strainer");
    }
  }

  takeControls() {
    for (const [west, north, east, south] of buttonBoxes(this.map)) this.room.take([west - 4, north - 4, east + 4, south + 4]);
  }

  placeSigns() {
    // Plates that would cover one another become one plate with a count; reading it reads them all.
    const placed = [];
    const hidden = [...this.treesInView(), ...this.gatesInView()];
    for (const sign of this.signs) {
      const point = this.at(middle(sign.row.at));
      sign.under = sign.kind === "hazard" && turned(plateBox(point, "hazard"), plateBox(point, "gate"), hidden);
      sign.box = plateBox(point, sign.under ? "gate" : sign.kind);
      sign.hidden = [];
      const under = placed.find((other) => other.kind === sign.kind && Math.abs(other.box[0] - sign.box[0]) < 58 && Math.abs(other.box[1] - sign.box[1]) < 56);
      if (under) under.hidden.push(sign.row);
      else placed.push(sign);
      const element = sign.marker.getElement();
      if (!element) continue;
      element.style.display = under ? "none" : "";
      element.classList.toggle("under", sign.under);
      if (sign.kind === "hazard") element.style.marginTop = sign.under ? "6px" : "-58px";
    }
    for (const sign of placed) {
      const mixed = sign.hidden.some((row) => row.kind !== sign.row.kind);
      sign.use.setAttribute("href", `#${mixed ? "glyph-other" : sign.glyph}`);
      sign.count.textContent = sign.hidden.length ? `×${sign.hidden.length + 1}` : "";
      if (!this.shown(sign.group)) continue;
      this.room.take(sign.box);
      if (sign.hidden.length) this.room.take([sign.box[2] - 20, sign.box[1] - 12, sign.box[2] + 14, sign.box[1] + 18]);
    }
    this.placed = placed;
  }

  treesInView() {
    // Boxes of the marks of trees that are drawn at this zoom.
    if (!this.shown("trees") || this.metres() > NEAR_M) return [];
    return this.data.trees.map((tree) => this.at(tree.at)).filter((point) => this.view.contains(point)).map((point) => around(point, 9));
  }

  gatesInView() {
    return this.shown("gates") ? this.data.gates.map((gate) => plateBox(this.at(middle(gate.at)), "gate")) : [];
  }

  metres() {
    const size = this.map.getSize().divideBy(2);
    return this.map.distance(this.map.containerPointToLatLng(size), this.map.containerPointToLatLng(size.add([1, 0])));
  }

  nameSigns() {
    for (const sign of this.placed) {
      if (!this.shown(sign.group)) continue;
      const point = L.point(sign.box[0] + 22, sign.box[1] + (sign.kind === "gate" || sign.under ? 33 : 20));
      if (this.view.contains(point)) this.beside(sign.row.id, point, 25, sign.kind);
    }
  }

  takeLines() {
    const wide = this.shown("hazards") ? this.data.hazards : [];
    for (const [rows, half] of [[this.data.runs, 4], [wide, 12], [this.data.given.overhead, 3]]) {
      for (const row of rows) this.eachPart(row.at, (a, b) => this.takePart(a, b, half));
    }
  }

  eachPart(places, act) {
    for (let row = 1; row < places.length; row += 1) {
      const part = L.LineUtil.clipSegment(this.at(places[row - 1]), this.at(places[row]), this.view, false);
      if (part) act(part[0], part[1]);
    }
  }

  takePart(a, b, half) {
    const steps = Math.max(1, Math.ceil(a.distanceTo(b) / (half + 3)));
    for (let step = 0; step <= steps; step += 1) {
      this.room.take(around({ x: a.x + ((b.x - a.x) * step) / steps, y: a.y + ((b.y - a.y) * step) / steps }, half));
    }
  }

  runsInView() {
    // Runs with their longest straight part on the screen, the longest first.
    const seen = [];
    for (const { id, metres, at } of this.data.runs) {
      const parts = [];
      this.eachPart(at, (a, b) => parts.push([a, b]));
      const longest = parts.sort((one, other) => other[0].distanceTo(other[1]) - one[0].distanceTo(one[1]))[0];
      if (longest) seen.push({ id, metres, part: longest, length: longest[0].distanceTo(longest[1]) });
    }
    return seen.sort((one, other) => other.length - one.length);
  }

  nameRun({ id, metres, part: [a, b], length }) {
    let angle = Math.atan2(b.y - a.y, b.x - a.x);
    if (angle > Math.PI / 2 || angle <= -Math.PI / 2) angle += Math.PI;
    const normal = { x: Math.sin(angle), y: -Math.cos(angle) };
    for (const text of [`${id} · ${metres}`, id]) {
      const width = this.width(text);
      if (width > Math.max(length * 1.15, 0)) continue;
      for (const share of [0.5, 0.36, 0.64, 0.22, 0.78]) {
        for (const off of [16, -16, 26, -26]) {
          const point = L.point(a.x + (b.x - a.x) * share + normal.x * off, a.y + (b.y - a.y) * share + normal.y * off);
          const boxes = alongBoxes(point, width, 18, angle);
          if (!boxes.every((box) => this.inside(box)) || !this.room.free(...boxes)) continue;
          this.room.take(...boxes);
          this.write(text, point, angle, "run");
          return true;
        }
      }
    }
    return false;
  }

  inside(box) {
    return box[0] >= this.view.min.x && box[1] >= this.view.min.y && box[2] <= this.view.max.x && box[3] <= this.view.max.y;
  }

  beside(text, point, gap, name) {
    const half = this.width(text) / 2;
    const spots = [[gap + half, 0], [-gap - half, 0], [0, -gap - 10], [0, gap + 10], [gap + half, -14], [-gap - half, -14], [gap + half, 14], [-gap - half, 14]];
    for (const [right, down] of spots) {
      const at = L.point(point.x + right, point.y + down);
      const box = around(at, half, 9);
      if (!this.inside(box) || !this.room.free(box)) continue;
      this.room.take(box);
      this.write(text, at, 0, name);
      return true;
    }
    return false;
  }
}
