// Where things are: lines by chainage, places beside them, distance and bearing on the ellipsoid, the official grid.
const AXIS_M = 6378137, FLAT = 1 / 298.257223563; // WGS 84
const RAD = Math.PI / 180;

function metresPerDegree(lat) {
  // Along the meridian and along the parallel, from the ellipsoid's radii of curvature.
  const squared = FLAT * (2 - FLAT), bent = 1 - squared * Math.sin(lat * RAD) ** 2;
  return { north: (RAD * AXIS_M * (1 - squared)) / bent ** 1.5, east: (RAD * AXIS_M * Math.cos(lat * RAD)) / Math.sqrt(bent) };
}

function geodesic(one, other) {
  // Distance in metres and true bearing at the first place (T. Vincenty, Survey Review 176, 1975, inverse formula).
  const lower = (lat) => Math.atan((1 - FLAT) * Math.tan(lat * RAD));
  const u1 = lower(one[0]), u2 = lower(other[0]), apart = (other[1] - one[1]) * RAD;
  const [s1, c1, s2, c2] = [Math.sin(u1), Math.cos(u1), Math.sin(u2), Math.cos(u2)];
  let turn = apart;
  for (let round = 0; round < 60; round += 1) {
    const east = c2 * Math.sin(turn), north = c1 * s2 - s1 * c2 * Math.cos(turn);
    const sine = Math.hypot(east, north), cosine = s1 * s2 + c1 * c2 * Math.cos(turn), arc = Math.atan2(sine, cosine);
    if (sine === 0) return { metres: 0, bearing: 0 };
    const tilt = (c1 * c2 * Math.sin(turn)) / sine, flat = 1 - tilt * tilt;
    const mid = flat === 0 ? 0 : cosine - (2 * s1 * s2) / flat;
    const c = (FLAT / 16) * flat * (4 + FLAT * (4 - 3 * flat));
    const next = apart + (1 - c) * FLAT * tilt * (arc + c * sine * (mid + c * cosine * (2 * mid * mid - 1)));
    const done = Math.abs(next - turn) < 1e-13;
    turn = next;
    if (!done) continue;
    const u = flat * (1 / (1 - FLAT) ** 2 - 1);
    const a = 1 + (u / 16384) * (4096 + u * (-768 + u * (320 - 175 * u))), b = (u / 1024) * (256 + u * (-128 + u * (74 - 47 * u)));
    const less = b * sine * (mid + (b / 4) * (cosine * (2 * mid * mid - 1) - (b / 6) * mid * (4 * sine * sine - 3) * (4 * mid * mid - 3)));
    return { metres: AXIS_M * (1 - FLAT) * a * (arc - less), bearing: (Math.atan2(east, north) / RAD + 360) % 360 };
  }
  return null;
}

function official(grid, [lat, lon]) {
  // East and north in the official grid; nothing further from the fence than the polynomial was fitted to.
  const u = (lat - grid.middle[0]) / grid.reach[0], v = (lon - grid.middle[1]) / grid.reach[1];
  if (Math.abs(u) > 1 || Math.abs(v) > 1) return null;
  let east = 0, north = 0, term = 0;
  for (let total = 0; total <= grid.degree; total += 1) {
    for (let j = 0; j <= total; j += 1, term += 1) {
      const power = u ** (total - j) * v ** j;
      east += grid.east[term] * power;
      north += grid.north[term] * power;
    }
  }
  return { east, north };
}

// ---- lines by chainage -------------------------------------------------------------------------------------------

function sums(steps, unit) {
  let whole = 0;
  return steps.map((step) => { whole += step; return whole * unit; });
}

function before(values, wanted) {
  // The last place in rising values that is not above the wanted one, from 0 to the last but one.
  let low = 0, high = values.length - 1;
  while (high - low > 1) {
    const half = (low + high) >> 1;
    if (values[half] <= wanted) low = half;
    else high = half;
  }
  return low;
}

function between(from, to, wanted) {
  return to > from ? Math.max(0, Math.min(1, (wanted - from) / (to - from))) : 0;
}

function readProfile({ m, h }, low) {
  return { m: sums(m, 0.01), h: h.map((height) => (height === null ? null : low + height / 100)) };
}

function heightAt(profile, m) {
  // Height and grade in percent, null where the ground is not known.
  if (profile.m.length < 2) return null;
  const row = before(profile.m, m), [from, to] = [profile.h[row], profile.h[row + 1]];
  if (from === null || to === null || m > profile.m[profile.m.length - 1] + 0.02) return null;
  const long = profile.m[row + 1] - profile.m[row];
  return { height: from + (to - from) * between(profile.m[row], profile.m[row + 1], m), grade: long ? (100 * (to - from)) / long : 0 };
}

function readLines(data, posts) {
  return data.lines.map((line) => {
    const rows = sums(line.posts.row, 1), m = sums(line.posts.m, 0.01);
    const tops = line.posts.top.map((top) => (top === null ? null : line.low + top / 100));
    return {
      ...line, length: line.way.m[line.way.m.length - 1],
      ground: readProfile(line.ground, line.low), fitted: readProfile(line.fitted, line.low),
      posts: { m, top: tops, bay: line.posts.bay, post: rows.map((row) => posts[row]) },
    };
  });
}

function placeAt(line, m) {
  const { at, m: along } = line.way, row = before(along, m), share = between(along[row], along[row + 1], m);
  return [0, 1].map((axis) => at[row][axis] + share * (at[row + 1][axis] - at[row][axis]));
}

function nearestOn(lines, place) {
  // The line, chainage and offset (right positive) nearest to a place, and how far away that is, in metres.
  const size = metresPerDegree(place[0]);
  let best = null;
  lines.forEach((line, index) => {
    for (let row = 1; row < line.way.at.length; row += 1) {
      const [a, b] = [line.way.at[row - 1], line.way.at[row]];
      const east = (b[1] - a[1]) * size.east, north = (b[0] - a[0]) * size.north, long = Math.hypot(east, north);
      const right = (place[1] - a[1]) * size.east, up = (place[0] - a[0]) * size.north;
      const share = long ? Math.max(0, Math.min(1, (right * east + up * north) / long ** 2)) : 0;
      const away = Math.hypot(right - share * east, up - share * north);
      if (best && away >= best.away) continue;
      const side = right * north - up * east >= 0 ? 1 : -1;
      best = { line: index, m: line.way.m[row - 1] + share * (line.way.m[row] - line.way.m[row - 1]), away, offset: side * away };
    }
  });
  return best;
}

function nearestPost(line, m) {
  const { m: at, post } = line.posts;
  if (!at.length) return null;
  const row = at.length > 1 ? before(at, m) : 0;
  const nearer = at.length > 1 && Math.abs(at[row + 1] - m) < Math.abs(at[row] - m) ? row + 1 : row;
  return { row: nearer, post: post[nearer], m: at[nearer] };
}

const SPACE = "\u00a0";
function figures(value, digits) {
  const [whole, part] = Math.abs(value).toFixed(digits).split(".");
  const minus = value < 0 && Number(value.toFixed(digits)) !== 0 ? "\u2212" : "";
  return minus + whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") + (part ? `.${part}` : "");
}
const inMetres = (value, digits = 1) => `${figures(value, digits)}${SPACE}m`;
const inDegrees = (value) => `${((Math.round(value * 10) % 3600) / 10).toFixed(1).padStart(5, "0")}°`;
