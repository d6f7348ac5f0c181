// The panel beside the map: tools, what is chosen and its properties, files. It shows a state and never holds one.
const MOST_LISTED = 200;
const byId = (id) => document.getElementById(id);

function make(tag, marks, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(marks || {})) {
    if (name === "onclick" || name === "onchange") element.addEventListener(name.slice(2), value);
    else if (typeof value === "boolean") element.toggleAttribute(name, value);
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

const button = (text, onclick, marks) => make("button", { type: "button", class: "act", onclick, ...marks }, text);

function toolRows(layers, begin) {
  // A row a layer: its sign, its name, how many there are, a button a shape. Returns what brings the rows up to date.
  const rows = layers.map((layer) => {
    const count = make("b", {}), tools = layer.shapes.map((shape) => button(shape, () => begin(layer.name, shape), { class: "tool", "aria-pressed": "false", "aria-label": `Draw: ${layer.one}, ${shape}`, "data-tool": `${layer.name}:${shape}` }));
    byId("rows").append(make("li", {}, swatch(layer), make("span", { class: "what" }, layer.title, " ", count), make("span", { class: "tools" }, ...tools)));
    return { layer, count, tools };
  });
  return ({ state, tool }) => {
    for (const { layer, count, tools } of rows) {
      const held = ofLayer(state, layer.name).length;
      count.textContent = held || "";
      tools.forEach((one, row) => one.setAttribute("aria-pressed", String(Boolean(tool) && tool.layer === layer.name && tool.shape === layer.shapes[row])));
    }
  };
}

function inputFor(field, put) {
  // An input for one property; `put(value)` takes null, a value, or undefined for what cannot be read.
  const id = `field-${field.name}`;
  if (field.holds === "word" || field.holds === "flag") {
    const options = field.holds === "flag" ? [["true", "yes"], ["false", "no"]] : field.words.map((word) => [word, word]);
    const choice = make("select", { id }, make("option", { value: "" }, "not said"), ...options.map(([value, text]) => make("option", { value }, text)));
    choice.addEventListener("change", () => put(choice.value === "" ? null : field.holds === "flag" ? choice.value === "true" : choice.value));
    const show = (value) => {
      const wanted = value === undefined || value === null ? "" : String(value);
      if (![...choice.options].some((option) => option.value === wanted)) choice.append(make("option", { value: wanted }, short(wanted, 40)));
      choice.value = wanted;
    };
    return { input: choice, show };
  }
  const number = field.holds === "number" || field.holds === "whole";
  const input = make("input", { id, type: "text", autocomplete: "off", ...(number ? { inputmode: field.least !== null && field.least < 0 ? "text" : "decimal" } : { maxlength: String(field.longest || 500) }) });
  if (field.holds === "text" && field.words.length) {
    input.setAttribute("list", `${id}-words`);
  }
  input.addEventListener("change", () => {
    const text = input.value.trim();
    if (!number) return put(text || null);
    const value = Number(text.replace(",", "."));
    return put(text === "" ? null : Number.isFinite(value) ? value : undefined);
  });
  return { input, show: (value) => { if (document.activeElement !== input || !input.classList.contains("wrong")) input.value = value === undefined || value === null ? "" : String(value); } };
}

function formFor(feature, layer, pen) {
  const fields = layer.fields.map((field) => {
    const wrong = make("span", { class: "wrong-words", id: `wrong-${field.name}` });
    const { input, show } = inputFor(field, (value) => {
      const fault = value === undefined ? `${field.label}: a number, such as 2.5` : value === null ? null : faultOf(field, value);
      tell(fault);
      if (!fault) pen.change(withProperty(pen.view().state, feature.id, field.name, value), value === null ? `${field.label} not said.` : `${field.label}: ${short(String(value))}.`);
    });
    const tell = (fault) => {
      wrong.textContent = fault || "";
      input.classList.toggle("wrong", Boolean(fault));
      input.setAttribute("aria-invalid", String(Boolean(fault)));
    };
    input.setAttribute("aria-describedby", wrong.id);
    const words = field.holds === "text" && field.words.length ? make("datalist", { id: `${input.id}-words` }, ...field.words.map((word) => make("option", { value: word }))) : "";
    const needed = make("em", {}), unit = field.unit ? make("span", { class: "unit" }, field.unit) : "";
    const row = make("p", { class: "field" }, make("label", { for: input.id }, field.label, " ", needed), make("span", { class: "entry" }, input, unit, words), wrong);
    const update = (now) => {
      const value = now.properties[field.name], must = field.needed || (layer.off_areas.includes(field.name) && !isArea(now));
      needed.textContent = must ? "needed" : "";
      row.classList.toggle("waits", must && (value === undefined || value === null));
      show(value);
      if (!input.classList.contains("wrong") || value !== undefined) tell(faultOf({ ...field, needed: false }, value));
    };
    return { row, update };
  });
  return { rows: fields.map((field) => field.row), update: (now) => fields.forEach((field) => field.update(now)) };
}

function chosenPart(layers, pen) {
  // What is chosen: name, measure, what can be done, its properties, its legs. Returns what brings it up to date.
  let shown = null, parts = null;
  const build = (feature) => {
    const layer = layers.find((one) => one.name === feature.layer), form = formFor(feature, layer, pen);
    const head = make("h3", {}), measure = make("p", { class: "measure" }), missing = make("p", { class: "do" });
    const plainLine = feature.type === "LineString";
    const acts = make("p", { class: "acts" },
      ...(plainLine ? [button("Go on drawing", () => pen.goOn(), { id: "go-on" }), button("Turn round", () => pen.change(turnedRound(pen.view().state, feature.id), "Turned round: left is now right."))] : []),
      button("Take it away", () => pen.change(swapped(pen.view().state, feature.id, null), `${pen.nameOf(feature)} taken away.`), { id: "take-away" }));
    const legs = make("tbody", {}), fold = make("details", {}, make("summary", {}, "Legs"), make("table", { class: "legs" }, make("thead", {}, make("tr", {}, ...["Leg", "Length", "Bearing, true"].map((text) => make("th", { scope: "col" }, text)))), legs));
    byId("chosen").replaceChildren(head, measure, missing, acts, ...form.rows, ...(isPoint(feature) ? [] : [fold]));
    const update = (now) => {
      head.replaceChildren(make("bdi", {}, pen.nameOf(now)));
      measure.textContent = [layer.title, sayOf(now)].filter(Boolean).join(": ");
      const faults = faultsOf(now, layer);
      missing.textContent = faults.length ? `${faults.join(". ")}.` : "";
      missing.hidden = !faults.length;
      form.update(now);
      const rows = isPoint(now) ? [] : now.parts.flatMap((places) => legsOf(places, isArea(now))).slice(0, MOST_LISTED);
      legs.replaceChildren(...rows.map((leg, row) => make("tr", {}, make("th", { scope: "row" }, String(row + 1)), make("td", {}, sayMetres(leg.metres)), make("td", {}, sayBearing(leg.bearing)))));
    };
    return { update };
  };
  return ({ state, chosen }) => {
    const kind = chosen && `${chosen.id} ${chosen.type}`;
    if (kind !== shown) parts = chosen ? build(chosen) : null;
    if (!chosen && kind !== shown) byId("chosen").replaceChildren();
    if (!chosen && !byId("chosen").firstChild) byId("chosen").append(make("p", { class: "none" }, "Nothing. Tap something on the map, or choose it below."));
    shown = kind;
    if (parts) parts.update(chosen);
    const listed = state.features.slice(0, MOST_LISTED).map((feature) => make("li", {}, button(make("bdi", {}, pen.nameOf(feature)), () => pen.choose(feature.id), { class: "go", "aria-pressed": String(Boolean(chosen) && chosen.id === feature.id), "data-feature": String(feature.id) }), make("span", {}, sayOf(feature))));
    const focused = document.activeElement && document.activeElement.dataset && document.activeElement.dataset.feature;
    byId("drawn").replaceChildren(...(listed.length ? listed : [make("li", { class: "none" }, "Nothing yet.")]));
    if (focused && byId("drawn").querySelector(`[data-feature="${focused}"]`)) byId("drawn").querySelector(`[data-feature="${focused}"]`).focus();
  };
}

function filesPart(layers, { pen, shelf, open }) {
  // The files: which hold what is drawn and which do not yet. Returns what brings them up to date.
  const rows = layers.map((layer) => {
    const says = make("span", { class: "what" }), act = button("Save", () => save(layer), { class: "tool", "aria-label": `Save ${layer.file}`, "data-save": layer.name });
    const row = make("li", {}, says, make("span", { class: "tools" }, act));
    byId("saves").append(row);
    return { layer, row, says, act };
  });
  const blame = (lines) => byId("faults").replaceChildren(...lines.map((line) => make("li", {}, line)));

  function save(layer) {
    if (pen.view().growing) pen.end();
    const { state } = pen.view();
    const faults = ofLayer(state, layer.name).flatMap((feature) => faultsOf(feature, layer).map((fault) => `${layer.file}, ${pen.nameOf(feature)}: ${fault}. Fix: fill it in under Chosen, then save.`));
    blame(faults);
    if (faults.length) return;
    const text = fileText(state, layer), link = make("a", { download: layer.file, href: URL.createObjectURL(new Blob([text], { type: "application/geo+json" })) });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    shelf.saved(layer, text);
  }

  byId("save-all").addEventListener("click", () => {
    shelf.unsaved(pen.view().state).forEach((layer, row) => setTimeout(() => save(layer), 300 * row)); // browsers drop downloads asked for all at once
  });
  byId("open").addEventListener("change", async (event) => {
    const lines = [], input = event.target;
    for (const file of input.files) lines.push(...open(file.name, await file.text()));
    blame(lines);
    input.value = "";
  });
  return ({ state }) => {
    const unsaved = shelf.unsaved(state);
    for (const { layer, row, says, act } of rows) {
      const count = ofLayer(state, layer.name).length, waits = unsaved.includes(layer);
      row.hidden = !count && !waits;
      says.replaceChildren(make("code", {}, layer.file), ` ${count} drawn, ${waits ? "not saved yet" : "saved"}`);
      act.classList.toggle("waits", waits);
    }
    byId("save-all").disabled = !unsaved.length;
    byId("unsaved").hidden = !unsaved.length;
    byId("unsaved").textContent = unsaved.length || "";
    byId("keeps").textContent = shelf.refused() ? "This browser refuses to keep the drawing: what is not saved is lost when the page is shut."
      : !state.features.length && !unsaved.length ? "Nothing is drawn yet." : unsaved.length ? "Kept in this browser, but not all of it in files yet." : "Everything drawn was handed over to be saved: see that the files are there.";
    byId("keeps").classList.toggle("do", shelf.refused());
  };
}

function bar(pen, openChosen) {
  // The buttons below the map that go with the tool in hand. Returns what brings them up to date.
  const acts = { here: pen.placeHere, end: pen.end, leave: pen.leave, undo: pen.undo, redo: pen.redo, take: () => pen.take(pen.view().held), fill: openChosen };
  for (const [id, act] of Object.entries(acts)) byId(id).addEventListener("click", () => {
    act();
    if (byId(id).hidden) byId("map").focus({ preventScroll: true });
  });
  byId("grip").addEventListener("change", (event) => pen.grip(event.target.checked));
  return ({ tool, growing, held, chosen, past, ahead }, layers) => {
    const layer = chosen && layers.find((one) => one.name === chosen.layer);
    byId("here").hidden = !tool;
    byId("leave").hidden = !tool || Boolean(growing);
    byId("end").hidden = !growing;
    byId("end").textContent = growing && tool.shape !== "line" ? "Close it" : "End line";
    byId("take").hidden = Boolean(tool) || !held || isPoint(chosen);
    byId("fill").hidden = !chosen || Boolean(growing) || !faultsOf(chosen, layer).length;
    byId("undo").disabled = !past;
    byId("redo").disabled = !ahead;
  };
}

function parts() {
  // One part of the panel is open at a time; on a phone none, until it is asked for.
  const tabs = [...document.querySelectorAll(".tabs button")], narrow = window.matchMedia("(max-width: 819px), (max-height: 479px)");
  const open = (id) => {
    for (const tab of tabs) {
      const on = tab.getAttribute("aria-controls") === id;
      tab.setAttribute("aria-expanded", String(on));
      byId(tab.getAttribute("aria-controls")).classList.toggle("open", on);
    }
    document.body.classList.toggle("reading", Boolean(id));
    document.querySelector(".looks").scrollTop = 0;
  };
  for (const tab of tabs) tab.addEventListener("click", () => open(narrow.matches && tab.getAttribute("aria-expanded") === "true" ? null : tab.getAttribute("aria-controls")));
  narrow.addEventListener("change", () => open(narrow.matches ? null : "look-draw"));
  open(narrow.matches ? null : "look-draw");
  let followed = null;
  const follow = ({ chosen, growing }) => {
    // Where there is room beside the map, what has been chosen is told without being asked for.
    const id = chosen && !growing ? chosen.id : null;
    if (id !== followed && !narrow.matches) open(id ? "look-chosen" : "look-draw");
    followed = id;
  };
  return { open, follow, shut: () => { if (narrow.matches) open(null); } };
}
