// What the map shows and where its own buttons are: the first view, room for popups, whether it stands still.

function buttonBoxes(map) {
  // The map's own furniture as boxes on the screen, counted from the map's upper left corner.
  const frame = map.getContainer().getBoundingClientRect();
  return [...map.getContainer().querySelectorAll(".leaflet-control")].map((control) => control.getBoundingClientRect())
    .filter((box) => box.width).map((box) => [box.left - frame.left, box.top - frame.top, box.right - frame.left, box.bottom - frame.top]);
}

function clearances(map) {
  // How far a popup keeps from each side of the map, so that it covers no button, neither scale nor north arrow.
  const size = map.getSize();
  const from = { left: 10, top: 10, right: 10, bottom: 10 };
  for (const [west, north, east, south] of buttonBoxes(map)) {
    if (south > size.y - 48) from.bottom = Math.max(from.bottom, size.y - north + 4);
    else if (west < 12) from.left = Math.max(from.left, east + 4);
    else from.top = Math.max(from.top, south + 8);
  }
  return from;
}

const plateBox = (point, kind) => [point.x - 22, kind === "gate" ? point.y + 6 : point.y - 58, point.x + 22, kind === "gate" ? point.y + 60 : point.y - 4];
const overlap = (one, other) => one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3];

function firstView(map, data) {
  // The whole fence, as large as it can be with neither a plate nor an end of a run under a button.
  const ends = data.runs.flatMap((run) => run.at), fence = L.latLngBounds(ends), buttons = buttonBoxes(map), size = map.getSize();
  const views = [[44, 64], [84, 64], [44, 124], [84, 124]].map(([left, top]) => {
    const zoom = map.getBoundsZoom(fence, false, L.point(Math.min(left + 44, 0.6 * size.x), Math.min(top + 48, 0.6 * size.y)));
    const at = (place) => map.project(place, zoom);
    const centre = at(fence.getSouthWest()).add(at(fence.getNorthEast())).add([44 - left, 48 - top]).divideBy(2);
    const corner = centre.subtract(map.getSize().divideBy(2));
    const boxes = [
      ...ends.map((place) => around(at(place).subtract(corner), 10)),
      ...data.hazards.map((row) => plateBox(at(middle(row.at)).subtract(corner), "hazard")),
      ...data.gates.map((row) => plateBox(at(middle(row.at)).subtract(corner), "gate")),
    ];
    const under = boxes.filter((box) => buttons.some((button) => overlap(box, button))).length;
    return { zoom, centre, under };
  });
  const best = views.reduce((one, other) => (other.under < one.under || (other.under === one.under && other.zoom > one.zoom) ? other : one));
  map.setView(map.unproject(best.centre, best.zoom), best.zoom, { animate: false });
}

function watchStillness(map) {
  // Says on the page itself, as body[data-settled], whether the map moves or stands still with everything drawn.
  let moving = false, frames = 0;
  // On a busy machine the browser's own slide of a sign lasts longer than Leaflet's count of its time.
  const sliding = () => (map.getContainer().getAnimations ? map.getContainer().getAnimations({ subtree: true }).length > 0 : false);
  const look = () => {
    frames = moving || sliding() ? 0 : frames + 1;
    // Leaflet draws, or begins to move, one frame after it was asked to.
    if (frames > 3) document.body.dataset.settled = "yes";
    else requestAnimationFrame(look);
  };
  const stir = () => {
    frames = 0;
    if (document.body.dataset.settled !== "no") requestAnimationFrame(look);
    document.body.dataset.settled = "no";
  };
  map.on("movestart", () => { moving = true; stir(); });
  map.on("moveend", () => { moving = false; stir(); });
  map.on("resize layeradd layerremove", stir);
  for (const act of ["click", "keydown", "input", "wheel"]) document.addEventListener(act, stir, { capture: true, passive: true });
  stir();
}
