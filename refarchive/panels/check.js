// Check: the frame beside a reference, its lines with their words, what is in it, and what viewers said.

const MARKS = [
  ["light", "a rounded thing, for the light"], ["lit", "the lit side of one surface"], ["shadow", "its shadow side"],
  ["edge", "one shadow's edge"], ["figure", "a figure"],
];

const PERCENT = ["blown out", "blocked up", "horizon"]; // held as parts of 1

function checkPanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelf = pictureShelf();
  const otherShelf = pictureShelf();
  const paperShelf = pictureShelf();
  const plotShelf = pictureShelf();
  let scenes = [];
  let presence = [];
  let current = null;
  let upload_ = "";
  const said = { departures: {}, needs: {}, marks: {} };

  const scene = choice([["", "choose a scene"]]);
  const kept = choice([["", "choose a frame"]]);
  const file = h("input", { type: "file", accept: "image/*" });
  const rawFile = h("input", { type: "file" });
  let linear_ = "";
  const words = h("p", { class: "ra-caption" });
  const go = button("Check", () => check(), { class: "ra-main" });
  const paper = h("span", {});
  const print_ = button("Make the report (PDF)", () => report(), { hidden: true });

  // Looking: frame and reference side by side, parted, one for the other, or one over the other.
  const compare = comparison();
  const beside_ = [0, 1, 2].map(() => choice([["", "choose a reference"]]));
  const [reference] = beside_;
  const plotted = h("div", {});
  const look = h("div", { class: "ra-sheet", hidden: true }, h("h4", {}, "Look"), compare.controls(labelled("Beside", reference), labelled("A second", beside_[1]), labelled("A third", beside_[2])), compare.element, h("div", { class: "ra-row" }, button("Draw tones and palettes", () => draw())), plotted);

  const lines = h("div", {});
  const facts = h("dl", { class: "ra-facts" });
  const studies = h("div", { class: "ra-studies" });
  const marker = regionMarker("The frame, to mark a part", () => {});
  const markAs = choice(MARKS);
  const figureName = h("input", { type: "text" });
  const needs = h("div", { class: "ra-grid" });
  const viewed = h("div", {});
  const theirWords = h("textarea", {});
  const viewer = h("input", { type: "text" });
  const seconds = h("input", { type: "text", inputmode: "decimal", value: "5" });
  const size = h("input", { type: "text", placeholder: "A4" });

  const after = h(
    "div", { hidden: true },
    h("div", { class: "ra-sheet" }, h("h4", {}, "Against the intent and the references"), lines),
    h("div", { class: "ra-sheet" }, h("h4", {}, "What is in the frame"), studies, facts),
    h(
      "div", { class: "ra-sheet" }, h("h4", {}, "Mark a part to have it measured"),
      h("div", { class: "ra-two" }, marker.element, h("div", {}, h("p", { class: "ra-hint" }, HOW_TO_MARK), labelled("It is", markAs), labelled("Name of the figure", figureName), h("div", { class: "ra-row" }, button("Keep the mark and check again", () => mark())))),
    ),
    h("div", { class: "ra-sheet" }, h("h4", {}, "What you see of the needs"), needs, h("div", { class: "ra-row" }, button("Check again with this", () => check()))),
    h(
      "div", { class: "ra-sheet" }, h("h4", {}, "Words of those who saw it"),
      h("p", { class: "ra-small" }, "Show the print for a few seconds without a word beside it, and ask what is happening."),
      h("form", { submit: (event) => { event.preventDefault(); view(); } },
        labelled("What they said", theirWords),
        h("div", { class: "ra-grid ra-gap" }, labelled("Viewer (a name or a number)", viewer), labelled("Seconds", seconds), labelled("Size of the print", size)),
        h("div", { class: "ra-row" }, h("button", { type: "submit" }, "Keep their words"))),
      viewed,
    ),
  );

  panelRoot(
    el, "Check a frame",
    h(
      "div", { class: "ra-sheet" },
      h("div", { class: "ra-grid" }, labelled("Scene", scene), labelled("A frame that is kept", kept), labelled("Or a picture file", file), labelled("Raw or linear file, for stops", rawFile)),
      words, h("div", { class: "ra-row" }, go, print_, paper), told.status, told.work, told.alert,
    ),
    look, after,
  );

  const chosenScene = () => scenes.find((one) => one.slug === scene.value);

  function fillScene() {
    const own = chosenScene();
    refill(words, own?.words ?? "");
    refill(kept, h("option", { value: "" }, "choose a frame"), ...(own?.frames ?? []).map((one) => h("option", { value: one.id }, one.name)));
    beside_.forEach((one, place) => refill(one, h("option", { value: "" }, place ? "nothing more" : "choose a reference"), ...(own?.references ?? []).map(({ id, title }) => h("option", { value: id }, title))));
  }
  scene.addEventListener("change", () => { current = null; look.hidden = after.hidden = print_.hidden = true; fillScene(); });
  kept.addEventListener("change", () => { upload_ = linear_ = file.value = rawFile.value = ""; said.departures = {}; said.needs = {}; });
  file.addEventListener("change", async () => {
    if (!file.files[0]) return;
    await during(told, [go], `Reading ${file.files[0].name}`, async () => {
      upload_ = await upload(ask, file.files[0]);
      kept.value = "";
      told.say("Ready to be checked.");
    });
  });
  rawFile.addEventListener("change", async () => {
    if (!rawFile.files[0]) { linear_ = ""; return; }
    await during(told, [go], `Reading ${rawFile.files[0].name}`, async () => {
      linear_ = await upload(ask, rawFile.files[0]);
      told.say("Stops will be told from it.");
    });
  });
  for (const one of beside_) one.addEventListener("change", () => beside());

  async function check() {
    if (go.getAttribute("aria-disabled")) return;
    const given = { scene: scene.value, frame: kept.value, upload: upload_, linear: linear_, ...said };
    const got = await atLength(told, ask, [go], "Measuring", "check", given);
    if (!got) return;
    upload_ = file.value = "";
    current = got.answer;
    said.departures = {}; said.needs = {}; said.marks = {};
    scenes = scenes.map((one) => (one.slug === current.scene.slug ? current.scene : one));
    const chosen = beside_.map((one) => one.value);
    fillScene();
    kept.value = current.frame.id;
    beside_.forEach((one, place) => { one.value = chosen[place]; });
    shelf.clear();
    const [frame, ...rest] = got.pictures;
    const url = shelf.url(frame);
    compare.frame(url, current.frame.source_name);
    marker.image.src = url;
    marker.region = null;
    refill(plotted);
    showLines(current.lines);
    refill(facts, ...current.facts.flatMap((one) => [h("dt", {}, one.name), h("dd", {}, one.words)]));
    refill(studies, ...current.studies.map((one, place) => h(
      "figure", {}, h("img", { src: shelf.url(rest[place], "image/png"), alt: `The frame: ${one.name.toLowerCase()}` }),
      h("figcaption", { class: "ra-caption" }, h("b", {}, one.name), ` ${one.words}`),
    )));
    showNeeds();
    showViewings(current.viewings);
    look.hidden = after.hidden = print_.hidden = false;
    refill(paper);
    told.say(`Checked; ${current.earlier} ${current.earlier === 1 ? "check" : "checks"} of this frame kept.`);
    beside();
  }

  async function draw() {
    const got = await atLength(told, ask, [], "Drawing", "draw", { scene: current.scene.slug, frame: current.frame.id, name: reference.value });
    if (!got) return;
    plotShelf.clear();
    const alt = "How much of the picture is at most so light, as curves; the main colours, as bars";
    refill(plotted, h("img", { class: "ra-plot", src: plotShelf.url(got.pictures[0], "image/png"), alt }));
    told.say("");
  }

  async function beside() {
    const names = [...new Set(beside_.map((one) => one.value).filter(Boolean))];
    if (!names.length || !current) return compare.others([]);
    const got = await during(told, [], "Fetching the references", () => ask("references", { names }));
    if (!got) return;
    otherShelf.clear();
    compare.others(got.pictures.map((one, place) => [otherShelf.url(one), got.answer.titles[place]]));
    told.say("");
  }

  compare.onOverlay = async () => {
    if (!reference.value || !current) return told.problem({ sentence: "There is nothing to lay it over.", step: "Choose a reference." });
    const got = await atLength(told, ask, [], "Aligning", "overlay", { scene: current.scene.slug, frame: current.frame.id, name: reference.value });
    if (!got) return;
    compare.overlay(got.pictures.length ? otherShelf.url(got.pictures[0]) : null, got.answer.words);
    told.say("");
  };

  const figure = (value, line) => {
    if (value === null) return "–";
    if (Array.isArray(value)) return h("span", { class: "ra-bar" }, h("span", { class: "ra-strip" }, value.map((one) => swatch(one))), h("span", { class: "ra-small" }, value.map((one) => `${one.hex} ${Math.round(100 * one.share)} %`).join(", ")));
    if (typeof value === "object") return Object.entries(value).map(([name, part]) => `${name} ${part.toFixed(0)}`).join(", ");
    if (typeof value !== "number") return String(value);
    return PERCENT.includes(line.measure) ? `${(100 * value).toFixed(1)} %` : value.toFixed(line.measure === "warmth" ? 0 : 1);
  };

  function showLines(all) {
    const own = all.filter((line) => line.against === "intent" && line.measure !== "need");
    const others = all.filter((line) => line.against !== "intent");
    const list = (rows, label) => h("ul", { class: "ra-lines", "aria-label": label }, rows);
    const row = (line, name) => h("li", { "data-measure": line.measure },
      h("p", {}, h("b", {}, line.verdict), " ", h("i", {}, name), line.words ? ` · ${line.words}` : ""),
      line.words ? null : h("p", { class: "ra-small" }, line.note),
      Array.isArray(line.target) || Array.isArray(line.frame) ? h("div", { class: "ra-two" }, [["Target", line.target], ["Frame", line.frame]].map(([said, value]) => h("div", {}, h("span", { class: "ra-small" }, said), figure(value, line)))) : null,
      line.remedy ? h("p", {}, h("i", {}, "What brought it within in a trial on the developed file: "), line.remedy) : null,
      h("details", {}, h("summary", { "aria-label": `Figures, and how it was measured: ${name}` }, "Figures, and how it was measured"),
        h("dl", { class: "ra-facts" }, [["Target", line.target], ["Frame", line.frame], ["Difference", line.difference], ["Tolerance", line.tolerance]].flatMap(([said, value]) => [h("dt", {}, said), h("dd", {}, figure(value, line), typeof value === "number" && !PERCENT.includes(line.measure) ? ` ${line.unit}` : "")])),
        h("p", { class: "ra-small" }, line.note)),
      line.against === "intent" && line.verdict === "outside" ? h("details", {}, h("summary", { "aria-label": `It is meant that way: ${name}` }, "It is meant that way"), depart(line)) : null);
    refill(lines,
      own.length ? list(own.map((line) => row(line, line.measure)), "Lines against the intent") : h("p", {}, "The intent sets nothing to measure against."),
      own.some((line) => line.remedy) ? h("p", { class: "ra-small" }, "Each change was tried alone; they do not add up.") : null,
      h("details", { class: "ra-gap" }, h("summary", {}, `Against ${new Set(others.map((line) => line.against)).size} references`),
        list(others.map((line) => row(line, `${line.measure}: ${current.titles[line.against] ?? line.label}`)), "Lines against references")),
    );
  }

  function depart(line) {
    const why = h("input", { type: "text" });
    return h("div", { class: "ra-row ra-mark" }, labelled(`Meant that way (${line.measure}), because`, why), button("Keep as an intended departure", () => {
      if (!why.value.trim()) return told.problem({ sentence: "No reason was given.", step: "Write in a few words why it is meant that way." });
      said.departures[line.measure] = why.value;
      check();
    }));
  }

  function showNeeds() {
    const known = Object.fromEntries(current.lines.filter((line) => line.measure === "need").map((line) => [line.label, line]));
    refill(needs, ...current.scene.needs.map((need) => {
      const line = known[need.name];
      const list = choice([["", "not said"], ...presence.map((one) => [one, one])], { change: (event) => { if (event.target.value) said.needs[need.slug] = event.target.value; else delete said.needs[need.slug]; } });
      if (presence.includes(line?.frame)) list.value = line.frame;
      return labelled(need.name, list);
    }));
  }

  function mark() {
    if (!marker.region) return told.problem({ sentence: "Nothing is marked.", step: "Draw a box on the frame first." });
    const name = markAs.value === "figure" && figureName.value.trim() ? `figure:${figureName.value.trim()}` : markAs.value;
    said.marks[name] = marker.region;
    check();
  }

  async function view() {
    const given = { scene: current.scene.slug, frame: current.frame.id, words: theirWords.value, viewer: viewer.value, seconds: seconds.value, print_size: size.value };
    const got = await during(told, [], "Saving", () => ask("view", given));
    if (!got) return;
    theirWords.value = viewer.value = "";
    showViewings(got.answer.viewings);
    told.say("Their words are kept.");
  }

  const showViewings = ({ viewers, understood, misread, neither, sentences, said: heard }) => {
    if (!viewers) return refill(viewed, h("p", {}, "Nobody's words are kept yet."));
    refill(viewed,
      h("p", {}, `${viewers} viewers: ${understood} said what was meant, ${misread} a misreading, ${neither} neither.`),
      h("ul", { class: "ra-list", "aria-label": "Sentences" }, sentences.map((one) => h("li", {}, `${one.viewers} · ${one.kind}: ${one.sentence}`))),
      h("ul", { class: "ra-list", "aria-label": "What was said" }, heard.map((one) => h("li", {}, `“${one.words}” ${one.kind || "neither"}`))),
    );
  };

  async function report() {
    const got = await atLength(told, ask, [print_], "Setting the pages", "report", { scene: current.scene.slug, frame: current.frame.id });
    if (!got) return;
    paperShelf.clear();
    refill(paper, h("a", { href: paperShelf.url(got.pictures[0], "application/pdf"), download: got.answer.name }, `Save ${got.answer.name}`));
    told.say("The report is made.");
  }

  ask("start").then(({ answer }) => {
    scenes = answer.scenes;
    presence = answer.presence;
    scene.append(...scenes.map((one) => h("option", { value: one.slug }, one.title)));
    scene.value = model.get("scene");
    fillScene();
    kept.value = model.get("frame");
    told.say(scenes.length ? "" : "The archive has no scene yet.");
  }, told.problem);

  return () => {
    for (const one of [shelf, otherShelf, paperShelf, plotShelf]) one.clear();
    ask.end();
  };
}

/** Two pictures at equal height, looked at together: side by side, parted by a slider, one for the other, or laid over. */
function comparison() {
  const left = h("img", { alt: "The frame", draggable: "false" });
  const right = h("img", { alt: "The reference", draggable: "false" });
  const more = [0, 1].map(() => h("img", { alt: "A further reference", draggable: "false" }));
  const over = h("img", { alt: "The frame half over the reference", draggable: "false" });
  const panes = [left, right, over, ...more].map((image) => h("div", { class: "ra-pane" }, image));
  const ground = h("div", { class: "ra-compare", "data-way": "beside", tabindex: "0", role: "group", "aria-label": "Frame and reference. Arrow keys move what is seen when it is enlarged." }, panes);
  const captions = h("p", { class: "ra-caption" });
  const way = choice([["beside", "side by side"], ["parted", "parted by a line"], ["instead", "one for the other"], ["over", "one over the other, aligned"]]);
  const line = h("input", { type: "range", min: "0", max: "100", value: "50" });
  const zoom = h("input", { type: "range", min: "1", max: "6", step: "0.1", value: "1" });
  const swap = button("Show the other", () => { shown = 1 - shown; draw(); });
  const lineField = labelled("Where the line stands", line);
  let shown = 0;
  let at = [0.5, 0.5];
  let names = ["", ""];
  const self = { element: h("div", {}, ground, captions), onOverlay: null };

  const draw = () => {
    const mode = way.value;
    ground.dataset.way = mode;
    const pair = Boolean(right.getAttribute("src"));
    panes[0].hidden = mode === "over" && Boolean(over.getAttribute("src"));
    panes[1].hidden = !pair || mode === "over";
    panes[2].hidden = mode !== "over" || !over.getAttribute("src");
    more.forEach((image, place) => { panes[3 + place].hidden = mode !== "beside" || !image.getAttribute("src"); });
    panes[1].style.clipPath = mode === "parted" ? `inset(0 0 0 ${line.value}%)` : "none";
    panes[1].style.visibility = mode === "instead" && shown === 0 ? "hidden" : "visible";
    panes[0].style.visibility = mode === "instead" && shown === 1 ? "hidden" : "visible";
    lineField.hidden = mode !== "parted";
    swap.hidden = mode !== "instead";
    const [x, y] = at.map((part) => (0.5 - part) * (1 - 1 / zoom.value) * 100);
    for (const image of [left, right, over, ...more]) image.style.transform = `scale(${zoom.value}) translate(${x}%, ${y}%)`;
    if (mode !== "over") refill(captions, mode === "instead" ? names[shown] : (mode === "beside" ? names : names.slice(0, 2)).filter(Boolean).join("  |  "));
  };
  way.addEventListener("change", () => { over.removeAttribute("src"); draw(); if (way.value === "over") self.onOverlay?.(); });
  line.addEventListener("input", draw);
  zoom.addEventListener("input", draw);
  const move = (dx, dy) => { at = [at[0] + dx, at[1] + dy].map((part) => Math.max(0, Math.min(1, part))); draw(); };
  ground.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-0.05, 0], ArrowRight: [0.05, 0], ArrowUp: [0, -0.05], ArrowDown: [0, 0.05] }[event.key];
    if (step) event.preventDefault(), move(...step);
  });
  ground.addEventListener("pointerdown", (event) => {
    ground.setPointerCapture(event.pointerId);
    let [lastX, lastY] = [event.clientX, event.clientY];
    const drag = (moved) => {
      const box = panes[0].getBoundingClientRect();
      move((lastX - moved.clientX) / box.width / zoom.value, (lastY - moved.clientY) / box.height / zoom.value);
      [lastX, lastY] = [moved.clientX, moved.clientY];
    };
    ground.addEventListener("pointermove", drag);
    ground.addEventListener("pointerup", () => ground.removeEventListener("pointermove", drag), { once: true });
  });

  self.controls = (...first) => h("div", { class: "ra-grid" }, first, labelled("How", way), lineField, labelled("Enlarged", zoom), h("div", { class: "ra-field ra-swap" }, swap));
  self.frame = (url, name) => { left.src = url; names[0] = `Frame: ${name}`; left.alt = names[0]; draw(); };
  self.others = (those) => {
    [right, ...more].forEach((image, place) => {
      const [url, name] = those[place] ?? ["", ""];
      if (url) image.src = url; else image.removeAttribute("src");
      names[1 + place] = name ? `Reference: ${name}` : "";
      image.alt = names[1 + place] || "A reference";
    });
    over.removeAttribute("src");
    draw();
    if (way.value === "over") self.onOverlay?.();
  };
  self.overlay = (url, words) => {
    if (url) over.src = url; else over.removeAttribute("src");
    draw();
    refill(captions, `${url ? "The frame half over the reference, to look at; no word hangs on it." : "Not laid over each other."} ${words}`);
  };
  draw();
  return self;
}

export default { render: ({ model, el }) => checkPanel(model, el) };
