// What lies near a place on the screen: what takes hold of a corner that is set down there, and what a tap chooses.
const FENCES = ["boundary", "gates", "pegs", "existing"]; // what stands on one line, and so takes hold of the others
const LOOSE = ["trees", "walk", "soils", "keepout"]; // what takes hold of nothing
const screenOf = (map, place) => map.latLngToContainerPoint([place[1], place[0]]);
const placeOf = (latlng) => [Number(latlng.lng.toFixed(9)), Number(latlng.lat.toFixed(9))];
const better = (one, other) => !other || one.rank < other.rank || (one.rank === other.rank && one.away < other.away);

function eachLeg(feature, part, work) {
  const places = feature.parts[part];
  for (let row = isArea(feature) ? 0 : 1; row < places.length; row += 1) work(isArea(feature) ? places[row] : places[row - 1], isArea(feature) ? places[(row + 1) % places.length] : places[row]);
}

function encloses(ring, at) {
  return ring.reduce((inside, one, row) => {
    const other = ring[(row + 1) % ring.length];
    const crosses = (one.y > at.y) !== (other.y > at.y) && at.x < one.x + ((at.y - one.y) / (other.y - one.y)) * (other.x - one.x);
    return crosses ? !inside : inside;
  }, false);
}

function takingHold(map, state, latlng, { layer, own, growing, reach, gripping }) {
  // The place itself, or what it goes onto: { place, onto, feature, vertex, self }. A vertex comes before a line. `own`
  // is the vertex that is being moved, `growing` the line that is being drawn: of that its two ends only.
  const at = screenOf(map, placeOf(latlng));
  const kin = !gripping || LOOSE.includes(layer) ? [] : FENCES.includes(layer) ? FENCES : [layer];
  const moving = own && found(state, own.id), still = own && moving.parts[own.part][own.vertex];
  const isEnd = (feature, part, vertex) => !isArea(feature) && (vertex === 0 || vertex === feature.parts[part].length - 1);
  let best = null;
  const offer = (hit) => { if (hit.away < reach && better(hit, best)) best = hit; };
  for (const feature of state.features) {
    const self = Boolean(growing && feature.id === growing.id), mine = Boolean(own && feature.id === own.id);
    if (!self && !kin.includes(feature.layer)) continue;
    feature.parts.forEach((places, part) => {
      places.forEach((place, vertex) => {
        const end = isEnd(feature, part, vertex);
        if ((still && samePlace(place, still)) || (self && !end) || (mine && !(end && isEnd(moving, own.part, own.vertex)))) return;
        offer({ rank: 0, place: place.slice(0, 2), away: at.distanceTo(screenOf(map, place)), onto: isPoint(feature) ? "mark" : end ? "end" : "corner", feature, vertex, self });
      });
      if (self || mine || isPoint(feature) || (FENCES.includes(layer) && feature.layer !== "boundary")) return;
      eachLeg(feature, part, (from, to) => {
        const on = L.LineUtil.closestPointOnSegment(at, screenOf(map, from), screenOf(map, to));
        offer({ rank: 1, place: placeOf(map.containerPointToLatLng(on)), away: at.distanceTo(on), onto: "line", feature });
      });
    });
  }
  return best || { place: placeOf(latlng), onto: null };
}

function chosenAt(map, state, latlng, reach) {
  // The id of the feature under a tap: points before lines, lines before what lies within an outline; null for none.
  const at = screenOf(map, placeOf(latlng));
  let best = null;
  const offer = (hit) => { if (hit.away <= reach && better(hit, best)) best = hit; };
  for (const feature of state.features) {
    const { id } = feature;
    feature.parts.forEach((places, part) => {
      if (isPoint(feature)) return offer({ rank: 0, id, away: at.distanceTo(screenOf(map, places[0])) });
      eachLeg(feature, part, (from, to) => offer({ rank: 1, id, away: L.LineUtil.pointToSegmentDistance(at, screenOf(map, from), screenOf(map, to)) }));
      if (isArea(feature) && feature.layer !== "boundary" && encloses(places.map((place) => screenOf(map, place)), at)) offer({ rank: 2, id, away: 0 });
      return undefined;
    });
  }
  return best && best.id;
}
