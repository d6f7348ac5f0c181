// The long section below the map: drawn from the plan's numbers on one canvas.
const TIMES = [50, 20, 10, 5, 4, 3, 2, 1.5, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];
const EDGE = { left: 46, right: 12, above: 32, below: 40 };
const STEPS = [1, 2, 5, 10];

function stepFor(span, most) {
  const power = 10 ** Math.floor(Math.log10(Math.max(span / most, 1e-3)));
  return STEPS.map((step) => step * power).find((step) => step * most >= span - 1e-9);
}

function sectionFrame(line, from, to, wide, high) {
  // How metres become pixels: `times` is the most of a list of round numbers that lets the heights fit.
  const heights = [];
  for (const profile of [line.ground, line.fitted]) {
    profile.m.forEach((m, row) => { if (m >= from && m <= to && profile.h[row] !== null) heights.push(profile.h[row]); });
    for (const m of [from, to]) { const at = heightAt(profile, m); if (at) heights.push(at.height); }
  }
  line.posts.top.forEach((top, row) => { if (top !== null && line.posts.m[row] >= from && line.posts.m[row] <= to) heights.push(top); });
  for (const [begin, end, least] of line.air) {
    const at = begin <= to && end >= from ? heightAt(line.fitted, (begin + end) / 2) : null;
    if (at) heights.push(at.height + least);
  }
  const known = heights.length > 0, low = known ? heights.reduce((a, b) => Math.min(a, b)) : 0, top = known ? heights.reduce((a, b) => Math.max(a, b)) : 0;
  const across = (wide - EDGE.left - EDGE.right) / Math.max(to - from, 0.1), room = high - EDGE.above - EDGE.below;
  const times = TIMES.find((one) => (top - low) * across * one <= room) || TIMES[TIMES.length - 1];
  const spare = (room - (top - low) * across * times) / 2;
  return {
    from, to, wide, high, known, times, low, top, across,
    x: (m) => EDGE.left + (m - from) * across,
    y: (height) => high - EDGE.below - spare - (height - low) * across * times,
    m: (x) => Math.max(from, Math.min(to, from + (x - EDGE.left) / across)),
  };
}

function drawSection(pen, line, frame) {
  const { x, y, from, to, high, wide } = frame, foot = high - EDGE.below;
  const inside = (begin, end = begin) => begin <= to + 1e-6 && end >= from - 1e-6;
  const level = (m) => { const at = heightAt(line.fitted, m); return at ? y(at.height) : groundless(line, frame, m); };
  pen.clearRect(0, 0, wide, high);
  pen.font = "12px sans-serif";
  pen.fillStyle = PAPER;
  pen.fillRect(EDGE.left, 0, wide - EDGE.left - EDGE.right, foot);
  drawGrid(pen, frame, foot);
  pen.save();
  pen.beginPath();
  pen.rect(EDGE.left - 7, 0, wide - EDGE.left - EDGE.right + 14, high);
  pen.clip();
  for (const flag of line.flags) if (inside(flag.from, flag.to)) drawFlag(pen, x(Math.max(flag.from, from)), x(Math.min(flag.to, to)), foot);
  for (const one of line.crossings) if (inside(one.from, one.to)) drawWater(pen, one, frame, level);
  for (const [begin, end, kind] of line.breaks) if (kind === "unknown" && inside(begin, end)) drawUnknown(pen, x(begin), x(end), level(begin), level(end));
  if (frame.known) {
    stroke(pen, line.ground, frame, SAND, 3);
    stroke(pen, line.fitted, frame, INK, 1.5);
  } else drawUnknown(pen, x(from), x(to), foot, foot);
  drawPosts(pen, line, frame, level);
  for (const [begin, end, least] of line.air) if (inside(begin, end)) drawAir(pen, x(begin), x(end), Math.min(level(begin), level(end)) - least * frame.across * frame.times);
  for (const [at, , kind] of line.breaks) if (kind !== "unknown" && inside(at)) drawBreak(pen, x(at), level(at), kind);
  drawStands(pen, line, frame, level, inside);
  pen.restore();
  nameMarks(pen, line, frame, inside, foot);
}

function groundless(line, frame, m) {
  // Over ground that is not known a mark stands at the nearest height that is.
  if (!frame.known) return frame.high - EDGE.below;
  const { m: at, h } = line.fitted;
  let best = null;
  at.forEach((one, row) => { if (h[row] !== null && (best === null || Math.abs(one - m) < Math.abs(at[best] - m))) best = row; });
  return best === null ? frame.high - EDGE.below : frame.y(h[best]);
}

function drawGrid(pen, frame, foot) {
  pen.textAlign = "right";
  pen.textBaseline = "middle";
  if (frame.known) {
    const most = Math.max(1, Math.floor((foot - EDGE.above) / 24)), span = Math.max(frame.top - frame.low, 0.5), step = stepFor(span, most);
    for (let height = Math.ceil(frame.low / step) * step; height <= frame.top + 1e-9; height += step) {
      pen.fillStyle = "#d8ccb8";
      pen.fillRect(EDGE.left, Math.round(frame.y(height)), frame.wide - EDGE.left - EDGE.right, 1);
      pen.fillStyle = INK;
      pen.fillText(figures(height, step < 1 ? 1 : 0), EDGE.left - 5, frame.y(height));
    }
    pen.fillText("m", EDGE.left - 5, 9);
  }
  pen.textAlign = "center";
  pen.textBaseline = "alphabetic";
  const step = stepFor(frame.to - frame.from, Math.max(2, Math.floor((frame.wide - EDGE.left) / 70)));
  for (let m = Math.ceil(frame.from / step - 1e-9) * step; m <= frame.to + 1e-6; m += step) {
    pen.fillStyle = INK;
    pen.fillRect(Math.round(frame.x(m)), foot, 1, 4);
    pen.fillText(figures(m, step < 1 ? 1 : 0), Math.max(EDGE.left, Math.min(frame.wide - 18, frame.x(m))), frame.high - 2);
  }
}

function stroke(pen, profile, frame, colour, weight) {
  pen.strokeStyle = colour;
  pen.lineWidth = weight;
  pen.lineJoin = "round";
  pen.beginPath();
  let drawn = false;
  const start = Math.max(0, before(profile.m, frame.from)), stop = Math.min(profile.m.length - 1, before(profile.m, frame.to) + 1);
  for (let row = start; row <= stop; row += 1) {
    if (profile.h[row] === null) { drawn = false; continue; }
    pen[drawn ? "lineTo" : "moveTo"](frame.x(profile.m[row]), frame.y(profile.h[row]));
    drawn = true;
  }
  pen.stroke();
}

function drawFlag(pen, left, right, foot) {
  // Hatched to the foot, so that a flag is told from ground that is not known without its colour.
  const wide = Math.max(3, right - left);
  pen.fillStyle = "rgba(156, 47, 31, .13)";
  pen.fillRect(left, EDGE.above - 4, wide, foot - EDGE.above + 4);
  pen.fillStyle = BRICK;
  pen.fillRect(left, foot - 6, wide, 6);
  pen.fillStyle = "#fff";
  for (let at = left + 3; at < left + wide - 2; at += 6) pen.fillRect(at, foot - 5, 2.5, 4);
}

function drawWater(pen, one, frame, level) {
  pen.strokeStyle = WATER;
  pen.fillStyle = WATER;
  pen.lineWidth = 2.4;
  for (const bank of [one.from, one.to]) {
    pen.beginPath();
    pen.moveTo(frame.x(bank), level(bank) - 8);
    pen.lineTo(frame.x(bank), level(bank) + 8);
    pen.stroke();
  }
  if (one.bed === undefined) return;
  pen.beginPath();
  polygon(pen, { x: frame.x(one.bed), y: level(one.bed) - 6 }, 6, 3, Math.PI);
  pen.fill();
}

function drawUnknown(pen, left, right, from, to) {
  pen.strokeStyle = INK;
  pen.lineWidth = 1.5;
  pen.setLineDash([2, 5]);
  pen.beginPath();
  pen.moveTo(left, from);
  pen.lineTo(right, to);
  pen.stroke();
  pen.setLineDash([]);
}

function drawAir(pen, left, right, level) {
  pen.strokeStyle = BRICK;
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(left, level);
  pen.lineTo(right, level);
  for (let at = left + 2; at < right; at += 6) { pen.moveTo(at, level); pen.lineTo(at + 3, level - 5); }
  pen.stroke();
}

function drawBreak(pen, at, level, kind) {
  pen.beginPath();
  polygon(pen, { x: at, y: level + 7 }, kind === "faint" ? 4 : 5.5, 3, 0);
  pen.lineWidth = 1.4;
  pen.strokeStyle = INK;
  pen.fillStyle = kind === "taken" ? INK : kind === "crest" ? OCHRE : PAPER;
  pen.fill();
  pen.stroke();
}

function drawPosts(pen, line, frame, level) {
  const { m, top, bay } = line.posts, rails = top.length > 0;
  const first = m.length ? before(m, frame.from) : 0;
  const thin = m.length > 1 ? Math.max(1, Math.ceil(2.5 / (((m[m.length - 1] - m[0]) / (m.length - 1)) * frame.across))) : 1;
  pen.strokeStyle = INK;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let row = first - (first % thin); row < m.length && m[row] <= frame.to + 1e-6; row += thin) {
    const foot = level(m[row]);
    pen.moveTo(frame.x(m[row]), foot);
    pen.lineTo(frame.x(m[row]), rails && top[row] !== null ? frame.y(top[row]) : foot - 7);
  }
  pen.stroke();
  if (!rails) return;
  pen.beginPath();
  for (let row = first; row + 1 < m.length && m[row] <= frame.to; row += 1) {
    if (bay[row] !== "1" || top[row] === null || top[row + 1] === null) continue;
    for (const drop of [0, line.drop]) {
      pen.moveTo(frame.x(m[row]), frame.y(top[row] - drop));
      pen.lineTo(frame.x(m[row + 1]), frame.y(top[row + 1] - drop));
    }
  }
  pen.strokeStyle = PLUM;
  pen.lineWidth = 1.5;
  pen.stroke();
}

const STAND_LOOKS = { corner: ["diamond", 6.5, OCHRE], strainer: ["square", 3.6, INK], node: ["ring", 6, PAPER], gate: ["square", 5, PAPER] };
function drawStands(pen, line, frame, level, inside) {
  for (const wanted of ["strainer", "node", "corner", "gate"]) {
    for (const [begin, end, kind] of line.stands) {
      if (kind !== wanted || !inside(begin, end)) continue;
      const [shape, size, fill] = STAND_LOOKS[kind], x = frame.x((begin + end) / 2), y = level((begin + end) / 2);
      pen.beginPath();
      SHAPES[shape](pen, { x, y: y - size }, size);
      pen.fillStyle = fill;
      pen.strokeStyle = kind === "strainer" ? "#fff" : INK;
      pen.lineWidth = kind === "strainer" ? 1 : 2;
      pen.fill();
      pen.stroke();
    }
  }
}

function nameMarks(pen, line, frame, inside, foot) {
  // What stands is named above, what to mind below; where names would meet the later ones stay unsaid: pointing tells them.
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  const rank = { gate: 0, corner: 1, node: 2, strainer: 3 };
  const name = (marks, lanes, colour) => {
    const taken = lanes.map(() => []);
    for (const { text, m } of marks) {
      const half = pen.measureText(text).width / 2 + 3, x = Math.max(EDGE.left + half, Math.min(frame.wide - half, frame.x(m)));
      const lane = taken.findIndex((spans) => spans.every(([begin, end]) => x + half <= begin || end <= x - half));
      if (lane < 0) continue;
      taken[lane].push([x - half, x + half]);
      pen.fillStyle = colour;
      pen.fillText(text, x, lanes[lane]);
    }
  };
  const middleIn = (begin, end) => (Math.max(begin, frame.from) + Math.min(end, frame.to)) / 2;
  const stands = line.stands.filter(([begin, end, , text]) => text && inside(begin, end)).sort((one, other) => rank[one[2]] - rank[other[2]]);
  name(stands.map(([begin, end, , text]) => ({ text: text.split(",")[0], m: middleIn(begin, end) })), [21, 8], INK);
  const flags = line.flags.filter((flag) => inside(flag.from, flag.to));
  name(flags.map((flag) => ({ text: flag.id, m: middleIn(flag.from, flag.to) })), [foot + 9, foot + 21], "#7d2013");
}
