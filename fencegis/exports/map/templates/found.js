// What was found along the line: crossings, trees, ground to clear, air under limbs, ways, stretches nobody checked.

// Told by shape and letter; colour only helps.
const TREES = {
  go: { shape: "hexagon", size: 10, weight: 1.6, color: "#fff", fillColor: BRICK, letter: "G", ink: "#fff" },
  limb: { shape: "triangle", size: 13, weight: 2, color: INK, fillColor: OCHRE, letter: "L", ink: INK },
  keep: { shape: "round", size: 9, weight: 2, color: INK, fillColor: PAPER, letter: "K", ink: INK },
  look: { shape: "square", size: 8.5, weight: 2, color: INK, fillColor: PAPER, letter: "?", ink: INK },
};
const BANK = { shape: "square", size: 7, weight: 2, color: WATER, fillColor: "#fff", letter: "B", ink: WATER };
const BED = { shape: "peg", size: 7, weight: 1.4, color: "#fff", fillColor: WATER };
const NEAR_M = 0.8; // metres a pixel; from further off the marks would hide the fence

function sayUnchecked(row, unchecked) {
  const facts = row.has.map((place) => unchecked.answers[place]);
  return { title: `Not checked: ${new Set(facts.map(([kind]) => kind)).size} kinds`, lead: `${row.where} ${unchecked.lead}`, facts };
}

function drawFound(groups, data, { line, mark, svg, screen }) {
  for (const row of data.unchecked.rows) {
    row.say = sayUnchecked(row, data.unchecked);
    line(row.at, "given", { color: "#fff", weight: 20, opacity: 0.7 }).addTo(groups.unchecked);
    line(row.at, "given", { color: "url(#band-unchecked)", weight: 18 }).addTo(groups.unchecked);
  }
  for (const strip of data.clearing) {
    L.polygon(strip.at, { pane: "given", renderer: svg.given, interactive: false, color: INK, weight: 1.2, dashArray: "2 3",
      fillColor: `url(#cover-${["open", "sparse", "loose", "dense"].includes(strip.density) ? strip.density : "dense"})`, fillOpacity: 1 }).addTo(groups.clearing);
  }
  for (const air of data.headroom) {
    line(air.at, "bands", { color: PLUM, weight: 14, opacity: 0.95 }).addTo(groups.headroom);
    line(air.at, "bands", { color: "url(#band-air)", weight: 11 }).addTo(groups.headroom);
  }
  for (const way of data.access) {
    line(way.at, "bands", { color: INK, weight: 14 }).addTo(groups.access);
    line(way.at, "bands", { color: "url(#band-access)", weight: 11 }).addTo(groups.access);
  }
  const near = { scale: () => Math.max(0.7, Math.min(1, 0.45 / screen.metres)), hidden: () => screen.metres > NEAR_M };
  for (const one of data.crossings) {
    for (const end of [one.at[0], one.at[one.at.length - 1]]) mark(end, BANK, near).addTo(groups.crossings);
    if (one.bed) mark(one.bed, BED, near).addTo(groups.crossings);
  }
  for (const tree of data.trees) mark(tree.at, TREES[tree.what], near).addTo(groups.trees);
}
