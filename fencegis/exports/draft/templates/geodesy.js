"use strict";
// Lengths, bearings and areas on the ellipsoid WGS 84. Places are [longitude, latitude] in degrees.
const SEMI_MAJOR_M = 6378137, FLATTENING = 1 / 298.257223563, SEMI_MINOR_M = SEMI_MAJOR_M * (1 - FLATTENING);
const ECCENTRICITY = Math.sqrt(FLATTENING * (2 - FLATTENING));
const radians = (degrees) => (degrees * Math.PI) / 180;
const wrapped = (turn) => turn - 2 * Math.PI * Math.round(turn / (2 * Math.PI));

function geodesic(from, to) {
  // Length in metres and bearing at the start, clockwise from true north: T. Vincenty's inverse formulae (Survey
  // Review 23, 176, 1975). They do not settle for places almost opposite on the earth; then both are NaN.
  const long = wrapped(radians(to[0] - from[0]));
  const [u1, u2] = [from, to].map((place) => Math.atan((1 - FLATTENING) * Math.tan(radians(place[1]))));
  const [s1, c1, s2, c2] = [Math.sin(u1), Math.cos(u1), Math.sin(u2), Math.cos(u2)];
  let turn = long;
  for (let round = 0; round < 60; round += 1) {
    const sin = Math.sin(turn), cos = Math.cos(turn);
    const east = c2 * sin, north = c1 * s2 - s1 * c2 * cos;
    const sinSigma = Math.hypot(east, north), cosSigma = s1 * s2 + c1 * c2 * cos;
    if (sinSigma === 0) return { metres: 0, bearing: 0 };
    const sigma = Math.atan2(sinSigma, cosSigma);
    const sinAlpha = (c1 * c2 * sin) / sinSigma, cos2Alpha = 1 - sinAlpha * sinAlpha;
    const cosMiddle = cos2Alpha > 1e-14 ? cosSigma - (2 * s1 * s2) / cos2Alpha : 0;
    const c = (FLATTENING / 16) * cos2Alpha * (4 + FLATTENING * (4 - 3 * cos2Alpha));
    const before = turn;
    turn = long + (1 - c) * FLATTENING * sinAlpha
      * (sigma + c * sinSigma * (cosMiddle + c * cosSigma * (2 * cosMiddle * cosMiddle - 1)));
    if (Math.abs(turn - before) > 1e-13) continue;
    const squared = cos2Alpha * (SEMI_MAJOR_M ** 2 / SEMI_MINOR_M ** 2 - 1);
    const a = 1 + (squared / 16384) * (4096 + squared * (squared * (320 - 175 * squared) - 768));
    const b = (squared / 1024) * (256 + squared * (squared * (74 - 47 * squared) - 128));
    const shift = b * sinSigma * (cosMiddle + (b / 4) * (cosSigma * (2 * cosMiddle ** 2 - 1)
      - (b / 6) * cosMiddle * (4 * sinSigma ** 2 - 3) * (4 * cosMiddle ** 2 - 3)));
    const bearing = (Math.atan2(c2 * Math.sin(turn), c1 * s2 - s1 * c2 * Math.cos(turn)) * 180) / Math.PI;
    return { metres: SEMI_MINOR_M * a * (sigma - shift), bearing: (bearing + 360) % 360 };
  }
  return { metres: NaN, bearing: NaN };
}

function zoneArea(sine) {
  // A quantity that grows as the area between the equator and a latitude (J. P. Snyder, Map Projections: A Working
  // Manual, US Geological Survey Professional Paper 1395, 1987, equation 3-12).
  const part = ECCENTRICITY * sine;
  return (1 - ECCENTRICITY ** 2) * (sine / (1 - part * part) + Math.atanh(part) / ECCENTRICITY);
}
const TO_POLE = zoneArea(1);

function areaWithin(ring) {
  // Square metres within a ring of places, the first not repeated; positive when it runs anticlockwise. Each edge is
  // taken as a great circle of the sphere of equal area, which at the size of farms is the geodesic.
  const half = ring.map((place) => Math.tan(Math.asin(zoneArea(Math.sin(radians(place[1]))) / TO_POLE) / 2));
  let turned = 0;
  ring.forEach((place, row) => {
    const next = (row + 1) % ring.length;
    const across = Math.tan(wrapped(radians(ring[next][0] - place[0])) / 2);
    turned -= 2 * Math.atan2(across * (half[row] + half[next]), 1 + half[row] * half[next]);
  });
  return (SEMI_MAJOR_M ** 2 * TO_POLE * turned) / 2;
}

const legsOf = (places, closed) =>
  places.slice(closed ? 0 : 1).map((place, row) => (closed ? geodesic(place, places[(row + 1) % places.length]) : geodesic(places[row], place)));
const lengthOf = (legs) => legs.reduce((sum, leg) => sum + leg.metres, 0);

const grouped = (text) => text.replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
const sayMetres = (metres) => {
  const [whole, tenth] = metres.toFixed(1).split(".");
  return `${grouped(whole)}.${tenth}\u00a0m`;
};
const sayBearing = (bearing) => `${((Math.round(bearing * 10) / 10) % 360).toFixed(1)}°`;
const sayArea = (square) => (Math.abs(square) < 10000 ? `${grouped(Math.abs(square).toFixed(0))}\u00a0m²` : `${grouped((Math.abs(square) / 10000).toFixed(2))}\u00a0ha`);
