// One place on one line, marked on the map and on the long section at once, and told in words.

class Cursor {
  constructor(map, lines, data) {
    Object.assign(this, { map, lines, data, at: null, span: 0, from: 0, line: 0 });
    const find = (name) => document.getElementById(`section${name}`);
    Object.assign(this, { box: find(""), canvas: find("-drawing"), says: find("-says"), scale: find("-scale"), which: find("-line"), spans: find("-span") });
    const icon = L.divIcon({ html: drawing("place-mark", "", 34, 34), className: "place-mark", iconSize: [34, 34], iconAnchor: [17, 17] });
    this.mark = L.marker([0, 0], { icon, interactive: false, keyboard: false, pane: "place" });
    this.listen();
    this.choose(0);
  }

  get open() { return !this.box.hidden; }

  listen() {
    const pointed = (event) => this.frame && this.set(this.line, this.frame.m(event.clientX - this.canvas.getBoundingClientRect().left), event.type === "pointerdown" || event.buttons > 0);
    for (const act of ["pointerdown", "pointermove"]) this.canvas.addEventListener(act, pointed);
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.which.addEventListener("change", () => { this.mark.remove(); this.choose(Number(this.which.value)); });
    this.spans.addEventListener("change", () => { this.span = Number(this.spans.value); this.slide(); this.draw(); });
    new ResizeObserver(() => this.draw()).observe(this.canvas);
    // Pointing at the line on the map marks the section, while no button is down.
    let asked = null;
    this.map.on("mousemove", (event) => {
      if (!this.open || asked) return;
      asked = requestAnimationFrame(() => { asked = null; this.fromMap(event.latlng, 16); });
    });
    this.map.on("click", (event) => { if (this.open) this.fromMap(event.latlng, 24); });
  }

  fromMap(latlng, reach) {
    const near = nearestOn(this.lines, [latlng.lat, latlng.lng]);
    if (!near) return;
    const on = placeAt(this.lines[near.line], near.m);
    if (this.map.latLngToContainerPoint(on).distanceTo(this.map.latLngToContainerPoint(latlng)) <= reach) this.set(near.line, near.m, false);
  }

  choose(line) {
    this.line = line;
    this.which.value = String(line);
    const { length } = this.lines[line];
    for (const option of this.spans.options) option.disabled = Number(option.value) >= length;
    if (this.span >= length) this.span = 0;
    this.spans.value = String(this.span);
    this.canvas.setAttribute("aria-label", `Place along ${this.lines[line].name}`);
    this.canvas.setAttribute("aria-valuemax", length.toFixed(1));
    this.canvas.setAttribute("aria-valuetext", "nothing is marked yet");
    this.at = null;
    this.slide();
    this.draw();
  }

  set(line, m, follow) {
    if (line !== this.line) this.choose(line);
    this.at = Math.max(0, Math.min(this.lines[line].length, m));
    this.slide();
    this.draw();
    this.tell();
    if (!this.open) return;
    const place = placeAt(this.lines[line], this.at);
    this.mark.setLatLng(place).addTo(this.map);
    if (follow && !this.map.getBounds().pad(-0.08).contains(place)) this.map.panTo(place, { animate: false });
  }

  slide() {
    // The part that is shown moves along when the mark would leave it.
    const { length } = this.lines[this.line], span = this.span || length, at = this.at || 0;
    if (!this.span) this.from = 0;
    else if (at < this.from || at > this.from + span) this.from = at - span / 2;
    this.from = Math.max(0, Math.min(length - span, this.from));
  }

  key(event) {
    const line = this.lines[this.line], { m } = line.posts, at = this.at === null ? -1 : this.at;
    const rising = (values) => [...new Set(values)].sort((one, other) => one - other);
    const step = (values, way) => (way > 0 ? values.find((value) => value > at + 0.02) : values.filter((value) => value < at - 0.02).pop());
    const marks = () => rising([0, line.length, ...line.stands.map(([at]) => at), ...line.flags.map((flag) => flag.from), ...line.crossings.map((one) => one.from)]);
    const ways = { ArrowRight: [m, 1], ArrowUp: [m, 1], ArrowLeft: [m, -1], ArrowDown: [m, -1], PageUp: [null, 1], PageDown: [null, -1] };
    let to;
    if (ways[event.key]) to = step(ways[event.key][0] || marks(), ways[event.key][1]);
    else if (event.key === "Home") to = 0;
    else if (event.key === "End") to = line.length;
    else if (event.key === "Enter" && this.at !== null) this.map.setView(placeAt(line, this.at), Math.max(this.map.getZoom(), 18), { animate: false });
    else return;
    event.preventDefault();
    this.set(this.line, to === undefined ? this.at : to, true);
  }

  words() {
    const line = this.lines[this.line], fitted = heightAt(line.fitted, this.at), ground = heightAt(line.ground, this.at);
    const near = nearestPost(line, this.at), said = [`${line.id}, ${inMetres(this.at)}`];
    said.push(ground ? `ground ${inMetres(ground.height)}` : "ground not known");
    if (fitted) said.push(Math.abs(fitted.grade) < 0.05 ? "level" : `${figures(Math.abs(fitted.grade), 1)}${SPACE}% ${fitted.grade > 0 ? "up" : "down"}`);
    if (near) {
      const away = this.at - near.m;
      said.push(Math.abs(away) < 0.05 ? `post ${near.post.id}` : `${inMetres(Math.abs(away))} ${away > 0 ? "after" : "before"} post ${near.post.id}`);
    }
    for (const [at, end, , text] of [...line.stands, ...line.breaks]) if (text && at - 0.6 <= this.at && this.at <= end + 0.6) said.push(text);
    const flags = line.flags.filter((flag) => flag.from <= this.at && this.at <= flag.to).map((flag) => `${flag.id} ${flag.kind}`);
    return [said.join(" · "), flags.join(", ")];
  }

  tell() {
    const [place, flags] = this.words();
    this.says.replaceChildren(make("bdi", "", place));
    if (flags) this.says.append(" ", make("b", "flag", make("bdi", "", flags)));
    this.canvas.setAttribute("aria-valuenow", this.at.toFixed(1));
    this.canvas.setAttribute("aria-valuetext", flags ? `${place}, flagged: ${flags}` : place);
  }

  draw() {
    const wide = this.canvas.clientWidth, high = this.canvas.clientHeight;
    if (!this.open || !wide) return;
    const sharp = window.devicePixelRatio || 1, line = this.lines[this.line], pen = this.canvas.getContext("2d");
    if (this.canvas.width !== Math.round(wide * sharp)) this.canvas.width = Math.round(wide * sharp);
    if (this.canvas.height !== Math.round(high * sharp)) this.canvas.height = Math.round(high * sharp);
    const key = [this.line, this.from, this.span, wide, high, sharp].join();
    if (key !== this.drawn) {
      this.frame = sectionFrame(line, this.from, this.from + (this.span || line.length), wide, high);
      // The section is drawn once for each part; only the mark moves over it.
      this.under = document.createElement("canvas");
      Object.assign(this.under, { width: this.canvas.width, height: this.canvas.height });
      const deep = this.under.getContext("2d");
      deep.scale(sharp, sharp);
      drawSection(deep, line, this.frame);
      this.drawn = key;
      const heights = this.frame.times === 1 ? "as large as distances" : `${this.frame.times} times as large as distances`;
      this.scale.textContent = this.frame.known ? `Heights are drawn ${heights}; metres along the line, level.` : "No elevation: heights and grades are not checked; the line is drawn flat.";
    }
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this.canvas.width, this.canvas.height);
    pen.drawImage(this.under, 0, 0);
    pen.scale(sharp, sharp);
    if (this.at === null) return;
    const x = this.frame.x(this.at), fitted = heightAt(line.fitted, this.at), y = fitted ? this.frame.y(fitted.height) : high - EDGE.below;
    pen.fillStyle = INK;
    pen.fillRect(x - 0.75, 0, 1.5, high - EDGE.below);
    pen.beginPath();
    pen.arc(x, y, 7, 0, 2 * Math.PI);
    Object.assign(pen, { strokeStyle: INK, lineWidth: 3, fillStyle: OCHRE });
    pen.stroke();
    pen.fill();
  }

  show(on) {
    this.box.hidden = !on;
    if (on && this.at !== null) this.set(this.line, this.at, false);
    if (!on) this.mark.remove();
    this.draw();
  }
}
