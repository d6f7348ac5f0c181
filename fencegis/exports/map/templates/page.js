// Reading the plan: what is under the finger, the search, the panel's parts on a phone, the print.
const narrow = window.matchMedia("(max-width: 559px), (max-width: 819px) and (min-height: 480px)"); // as in the style
const taps = { take: null }; // a tool that wants the next places pointed at takes them before anything is read

function pixelsFrom(point, a, b) {
  const squared = (b.x - a.x) ** 2 + (b.y - a.y) ** 2;
  const share = squared ? Math.max(0, Math.min(1, ((point.x - a.x) * (b.x - a.x) + (point.y - a.y) * (b.y - a.y)) / squared)) : 0;
  return Math.hypot(point.x - a.x - share * (b.x - a.x), point.y - a.y - share * (b.y - a.y));
}

function fromLine(map, point, places) {
  const on = places.map((place) => map.latLngToLayerPoint(place));
  return on.length < 2 ? point.distanceTo(on[0]) : Math.min(...on.slice(1).map((end, row) => pixelsFrom(point, on[row], end)));
}

function reader(map, groups, data, drawn, clearTheMap) {
  const shown = (group) => map.hasLayer(groups[group]);
  const popup = (parts, place, lift) => {
    clearTheMap();
    const room = map.getSize(), from = clearances(map), up = lift || 4;
    const wide = Math.min(248, room.x - from.left - from.right - 33); // 33: the popup's own edges
    const high = room.y - from.top - from.bottom - Math.abs(up) - 60; // 60: its edges and its tip
    L.popup({
      maxWidth: wide, minWidth: Math.min(220, wide), maxHeight: Math.max(96, Math.min(Math.round(room.y * 0.5), high)), offset: [0, up],
      autoPanPaddingTopLeft: [from.left, from.top], autoPanPaddingBottomRight: [from.right, from.bottom],
    }).setLatLng(place).setContent(said(...parts)).openOn(map);
  };
  const open = (rows, place, lift) => popup(rows.map((row) => row.say || sayPost(row, data.runs)), place, lift);

  function marksNear(point, reach) {
    const kinds = [["strainers", data.corners], ["strainers", data.nodes], ["strainers", data.strainers], ["given", data.given.pegs], ["given", data.given.walk]];
    if (drawn.screen.metres <= NEAR_M) kinds.push(["trees", data.trees]);
    if (!drawn.crowded()) kinds.push(["posts", drawn.posts]);
    const low = map.layerPointToLatLng(point.add([-reach, reach])), high = map.layerPointToLatLng(point.add([reach, -reach]));
    const near = [];
    for (const [group, rows] of kinds) {
      if (!shown(group)) continue;
      for (const row of rows) {
        const place = typeof row.at[0] === "number" ? row.at : row.at[0];
        if (place[0] < low.lat || place[0] > high.lat || place[1] < low.lng || place[1] > high.lng) continue;
        near.push({ row, place, away: point.distanceTo(map.latLngToLayerPoint(place)) });
      }
    }
    return near.sort((one, other) => one.away - other.away);
  }

  map.on("click", (event) => {
    if (taps.take) return taps.take([event.latlng.lat, event.latlng.lng]);
    const point = event.layerPoint, reach = L.Browser.mobile ? 22 : 11;
    const near = marksNear(point, reach);
    if (near.length) {
      const together = near.filter((mark) => map.distance(mark.place, near[0].place) < 0.3).slice(0, 3);
      return open(together.map((mark) => mark.row), near[0].place);
    }
    // What lies on one stretch is read together, the gravest first.
    const lines = [
      [["gates", data.gates, 14]],
      [["hazards", data.hazards, 14], ["crossings", data.crossings, 14], ["access", data.access, 14], ["headroom", data.headroom, 14]],
      [["runs", data.runs, reach], ["unchecked", data.unchecked.rows, 12]],
      [["clearing", data.clearing, reach]],
      [["given", data.given.overhead, reach]], [["given", data.given.trees, reach]], [["given", data.given.beside, reach]],
    ];
    for (const together of lines) {
      const hits = together.flatMap(([group, rows, within]) => (shown(group) ? rows.filter((row) => fromLine(map, point, row.at) <= within) : []));
      if (hits.length) return open(hits.slice(0, 4), event.latlng);
    }
    return null;
  });

  function go(row, group) {
    if (group && !shown(group)) groups[group].addTo(map); // what is looked for is shown
    const place = typeof row.at[0] === "number" ? [row.at] : row.at;
    clearTheMap();
    map.fitBounds(L.latLngBounds(place), { maxZoom: Math.max(place.length > 1 ? 18 : 20, map.getZoom()), padding: [70, 70], animate: false });
    open([row], place.length > 1 ? middle(place) : place[0]);
  }
  return { open, go };
}

function finder(data, posts, go) {
  const box = document.getElementById("find"), list = document.getElementById("found"), count = document.getElementById("found-count");
  const rows = [
    ["Run", data.runs, "runs"], ["Gate", data.gates, "gates"], ["Hazard", data.hazards], ["Crossing", data.crossings, "crossings"], ["Tree", data.trees, "trees"],
    ["Corner", data.corners, "strainers"], ["Junction", data.nodes, "strainers"], [data.holder, data.strainers, "strainers"], ["Post", posts, "posts"],
  ];
  box.addEventListener("input", () => {
    const asked = box.value.trim().toLowerCase();
    const hits = [];
    for (const [kind, all, group] of asked ? rows : []) {
      for (const row of all) {
        const name = `${row.id} ${row.name || ""}`.trim(), spoken = `${kind} ${name}`.toLowerCase();
        const place = name.toLowerCase().indexOf(asked), said = place < 0 && spoken.startsWith(asked);
        if (place >= 0 || said) hits.push({ kind, row, name, group, rank: place === 0 || said ? name.length : 1000 + place });
      }
    }
    hits.sort((one, other) => one.rank - other.rank);
    count.textContent = !asked ? "" : hits.length ? `${hits.length} found${hits.length > 8 ? ", the first 8 are listed" : ""}. Enter goes to the first.` : "Nothing here goes by that name.";
    list.replaceChildren(...hits.slice(0, 8).map(({ kind, row, name, group }) => {
      const button = make("button", "go", `${kind} `, make("bdi", "", name));
      button.type = "button";
      button.addEventListener("click", () => go(row, group));
      return make("li", "", button);
    }));
  });
  box.addEventListener("keydown", (event) => {
    const first = list.querySelector(".go");
    if (event.key === "Enter" && first) first.click();
  });
}

function parts(map) {
  // On a phone one part of the panel is open at a time, below the map; on a wide screen all of them are.
  // Returns what closes the open part and leaves the map where it is.
  const tabs = [...document.querySelectorAll(".tabs button")];
  let whole = null;
  const settle = (opening) => {
    // The smaller map shows what the larger one showed; the larger one comes back as it was.
    if (opening && !whole) whole = { bounds: map.getBounds(), centre: map.getCenter(), zoom: map.getZoom() };
    map.closePopup();
    map.invalidateSize({ animate: false });
    if (opening) map.fitBounds(whole.bounds, { animate: false });
    else if (whole) map.setView(whole.centre, whole.zoom, { animate: false });
    if (!opening) whole = null;
  };
  const turn = (tab, opening) => {
    for (const other of tabs) {
      const on = opening && other === tab;
      other.setAttribute("aria-expanded", String(on));
      document.getElementById(other.getAttribute("aria-controls")).classList.toggle("open", on);
    }
    document.body.classList.toggle("reading", opening);
    settle(opening);
  };
  for (const tab of tabs) {
    tab.addEventListener("click", () => {
      if (!narrow.matches) {
        document.getElementById(tab.getAttribute("aria-controls")).scrollIntoView();
        return;
      }
      turn(tab, tab.getAttribute("aria-expanded") !== "true" || !document.body.classList.contains("reading"));
    });
  }
  return {
    close() {
      whole = null;
      if (document.body.classList.contains("reading")) turn(null, false);
    },
    show(name) {
      const tab = tabs.find((one) => one.getAttribute("aria-controls") === name);
      if (narrow.matches) turn(tab, true);
      else document.getElementById(name).scrollIntoView();
    },
  };
}

function printing(map, data) {
  // On paper as on the screen; where the screen shows all of the fence, as large as the paper allows.
  const fence = L.latLngBounds(data.runs.flatMap((run) => run.at));
  let before = null, shut = [];
  const enter = () => {
    if (before || document.body.classList.contains("to-scale")) return;
    before = { bounds: map.getBounds(), centre: map.getCenter(), zoom: map.getZoom() };
    map.closePopup();
    shut = [...document.querySelectorAll("details:not([open])")];
    for (const fold of shut) fold.open = true;
    document.body.classList.add("printing"); // the paper's size at once: browsers say that they print before they lay the paper out
    map.invalidateSize({ animate: false });
    if (before.bounds.contains(fence)) map.fitBounds(fence, { animate: false, paddingTopLeft: [40, 62], paddingBottomRight: [40, 40] });
    else map.fitBounds(before.bounds, { animate: false });
  };
  const leave = () => {
    if (!before) return;
    document.body.classList.remove("printing");
    map.invalidateSize({ animate: false });
    map.setView(before.centre, before.zoom, { animate: false });
    before = null;
    for (const fold of shut) fold.open = false;
  };
  window.matchMedia("print").addEventListener("change", (event) => (event.matches ? enter() : leave()));
  window.addEventListener("beforeprint", enter);
  window.addEventListener("afterprint", leave);
}

function fencePlan(map, layers, groups) {
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  map.attributionControl.setPrefix("Leaflet");
  map.getContainer().setAttribute("role", "main");
  map.getContainer().setAttribute("aria-label", "Map: arrow keys move it, plus and minus bring it nearer and further");
  const drawn = draw(map, groups, data);
  const panel = parts(map);
  const reading = reader(map, groups, data, drawn, () => { panel.close(); layers.collapse(); });
  const cursor = new Cursor(map, readLines(data, drawn.posts), data);
  const strip = toolStrip(map, data, cursor, panel);
  L.control.scale({ imperial: false, maxWidth: 160, position: "bottomleft" }).addTo(map);
  const north = L.control({ position: "topleft" });
  north.onAdd = () => {
    const arrow = make("div", "north", drawing("north", "", 34, 46));
    arrow.title = "North is up";
    return arrow;
  };
  north.addTo(map);
  firstView(map, data);
  const words = new Words(map, groups, data, reading.open);
  // Words keep off the open list of layers; once it is folded they may stand where it was.
  new MutationObserver(() => words.place()).observe(layers.getContainer(), { attributeFilter: ["class"] });
  paper(map, groups, data, strip);
  watchStillness(map);
  finder(data, drawn.posts, reading.go);
  printing(map, data);
  for (const button of document.querySelectorAll("[data-go]")) {
    const [layer, row] = button.dataset.go.split(":");
    button.addEventListener("click", () => reading.go(data[layer][Number(row)]));
  }
  document.body.dataset.ready = "yes";
}
