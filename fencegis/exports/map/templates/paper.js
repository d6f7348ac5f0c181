// The sheet that is printed to scale: a map of fixed millimetres, its zoom set so that one of them is so many metres.
const PIXELS_PER_MM = 96 / 25.4; // a CSS pixel is 1/96 inch, on paper as well
const SHEETS = { landscape: { wide: 196, high: 188 }, portrait: { wide: 192, high: 186 } }; // millimetres of map
const MERCATOR_M = 2 * Math.PI * AXIS_M; // the whole map's side at its own scale

function zoomFor(scale, lat) {
  // Web Mercator is stretched by a/(N cos lat) to the east and a/(M cos lat) to the north: their mean is taken.
  const size = metresPerDegree(lat), ground = Math.sqrt(size.east * size.north * Math.cos(lat * RAD)) / (RAD * AXIS_M);
  return Math.log2((MERCATOR_M * ground * PIXELS_PER_MM * 1000) / (256 * scale));
}

function stretchOff(lat) {
  // How far the two directions are from their mean, in percent.
  const size = metresPerDegree(lat);
  return 100 * Math.abs(Math.sqrt((size.east / Math.cos(lat * RAD)) / size.north) - 1);
}

function barFor(scale) {
  const metres = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000].filter((one) => (one * 1000) / scale <= 60).pop();
  return { metres, mm: (metres * 1000) / scale };
}

// Layers that are off at first, and their rows of the legend.
const KEYS_OF = { drawn: "#key-given-drawn", headroom: "#key-headroom", clearing: "#key-clearing", unchecked: "#key-unchecked" };

function paper(map, groups, data, strip) {
  const find = (name) => document.getElementById(name);
  const form = find("paper"), way = find("paper-way"), scale = find("paper-scale"), says = find("paper-says"), sheet = document.querySelector(".sheet"), cautions = document.querySelector(".sheet-cautions"), signs = find("sheet-legend");
  const fence = L.latLngBounds(data.runs.flatMap((run) => run.at)), frame = map.getContainer();
  const page = document.head.appendChild(make("style", "")), button = strip.button("paper");
  let before = null;

  const fits = (one, layout) => {
    const zoom = zoomFor(one, fence.getCenter().lat), low = map.project(fence.getSouthWest(), zoom), high = map.project(fence.getNorthEast(), zoom);
    const { wide, high: tall } = SHEETS[layout];
    return high.x - low.x <= (wide - 20) * PIXELS_PER_MM && low.y - high.y <= (tall - 20) * PIXELS_PER_MM;
  };
  const choose = () => {
    const best = [...scale.options].map((option) => Number(option.value)).flatMap((one) => ["landscape", "portrait"].map((layout) => [one, layout]))
      .find(([one, layout]) => fits(one, layout));
    [scale.value, way.value] = best ? [String(best[0]), best[1]] : [scale.options[scale.options.length - 1].value, "landscape"];
  };

  const full = () => sheet.scrollHeight > sheet.clientHeight + 1 || sheet.scrollWidth > sheet.clientWidth + 1;
  function makeRoom() {
    // Cautions that find no room beside the map go onto a sheet of their own, and if need be the legend with them.
    sheet.append(signs, cautions);
    document.body.classList.toggle("spill", full());
    if (!document.body.classList.contains("spill")) return;
    document.body.append(cautions);
    if (full()) cautions.prepend(signs);
  }

  const hidden = () => Object.keys(KEYS_OF).filter((group) => !map.hasLayer(groups[group])).map((group) => KEYS_OF[group]);
  function legend() {
    // What is switched off is not on the sheet and not in its legend.
    const list = document.querySelector(".legend").cloneNode(true), off = hidden();
    for (const row of [...list.children]) if (off.includes(row.querySelector("use").getAttribute("href"))) row.remove();
    return list;
  }

  function lay(centre) {
    const one = Number(scale.value), size = SHEETS[way.value], bar = barFor(one);
    document.body.dataset.paper = way.value;
    page.textContent = `@page { size: A4 ${way.value}; margin: 8mm; }`;
    frame.style.setProperty("--wide", `${size.wide}mm`);
    frame.style.setProperty("--high", `${size.high}mm`);
    map.invalidateSize({ animate: false, pan: false });
    map.setView(centre, zoomFor(one, centre.lat), { animate: false });
    map.setMinZoom(map.getZoom());
    map.setMaxZoom(map.getZoom());
    const off = stretchOff(centre.lat);
    find("sheet-scale").textContent = `1:${figures(one, 0)} on A4 printed at its full size, within ${figures(Math.max(0.1, off), 1)} % in any direction. North is up.`;
    const strip = find("sheet-bar");
    strip.style.width = `${bar.mm}mm`;
    strip.replaceChildren(...[0, bar.metres / 2, bar.metres].map((m) => make("span", "", `${figures(m, m % 1 ? 1 : 0)}${m === bar.metres ? SPACE + "m" : ""}`)));
    makeRoom();
    says.textContent = map.getBounds().contains(fence) ? "All of the fence is on the sheet." : "Not all of the fence is on this sheet: drag the map to the part that is wanted, or choose a smaller scale.";
  }

  function open() {
    strip.rest();
    choose();
    // All of the fence where a sheet holds it; else the part that was in view.
    const centre = fits(Number(scale.value), way.value) ? fence.getCenter() : map.getCenter();
    before = { centre: map.getCenter(), zoom: map.getZoom(), snap: map.options.zoomSnap, least: map.options.minZoom, most: map.options.maxZoom };
    map.options.zoomSnap = 0;
    document.body.classList.add("to-scale");
    form.hidden = sheet.hidden = false;
    signs.replaceChildren(legend());
    button.setAttribute("aria-expanded", "true");
    lay(centre);
    way.focus();
  }

  function close() {
    document.body.classList.remove("to-scale", "spill");
    sheet.append(signs, cautions);
    form.hidden = sheet.hidden = true;
    page.textContent = "";
    Object.assign(map.options, { zoomSnap: before.snap, minZoom: before.least, maxZoom: before.most });
    map.invalidateSize({ animate: false, pan: false });
    map.setView(before.centre, before.zoom, { animate: false });
    button.setAttribute("aria-expanded", "false");
    button.focus();
  }

  const again = () => {
    const centre = fits(Number(scale.value), way.value) ? fence.getCenter() : map.getCenter();
    Object.assign(map.options, { minZoom: before.least, maxZoom: before.most });
    lay(centre);
  };
  button.addEventListener("click", open);
  way.addEventListener("change", again);
  scale.addEventListener("change", again);
  find("paper-back").addEventListener("click", close);
  form.addEventListener("submit", (event) => { event.preventDefault(); window.print(); });
  form.addEventListener("keydown", (event) => { if (event.key === "Escape") close(); });
}
