// Scene: what is to be told, how it is to look, what it needs and what that rests on, its cost, and the dossier.

const STORY = [
  ["title", "Title"], ["series", "Series"], ["date", "Date of the event"], ["currency", "Currency"],
  ["place", "Place", "words"], ["latitude", "Latitude, degrees north"], ["longitude", "Longitude, degrees east"], ["event", "What happened", "long"],
  ["story", "Story", "long"], ["statements", "What the picture is to say, a line each", "list"], ["misreadings", "What it must not be taken for, a line each", "list"],
];
const LOOK = [["words", "How it is to look", "long"], ["light_from", "Light from", "words"]];
const TARGETS = [ // what is measured, its key, in what, its tolerance's key, in what
  ["Key: the median lightness, 0 black to 100 white", "key", "L*", "key_tolerance", "L*"],
  ["Contrast: from the 5th to the 95th percentile", "contrast", "L*", "contrast_tolerance", "L*"],
  ["Palette: how far from the colours above", null, "", "palette_tolerance", "ΔE00"],
  ["Warmth", "warmth_k", "K", "warmth_tolerance_mired", "mired"],
  ["Light comes from: 0 right, 90 above, 180 left", "light_tilt_deg", "degrees", "light_tolerance_deg", "degrees"],
  ["Lit side above shadow side", "lit_to_shadow", "stops", "lit_to_shadow_tolerance", "stops"],
  ["Horizon, from the top", "horizon", "% of the height", "horizon_tolerance", "% of the height"],
  ["Blown out, at most", "blown_most", "% of the area", null, ""],
  ["Blocked up, at most", "blocked_most", "% of the area", null, ""],
  ["Likeness to the pictures below: closer than so many of the archive's", "likeness_percentile", "%", null, ""],
  ["Light and dark lie alike, at least (−1 to 1)", "layout_least", "", null, ""],
];
const FIGURE = [["name", "Name"], ["performer", "Performer"], ["role", "Role", "words"], ["rank", "Rank", "words"], ["action", "What they do", "words"], ["wet", "How wet", "words"], ["sizes", "Sizes, a line each (height: 164 cm)", "pairs"]];
const MONEY = ["deposit", "estimate", "actual"];

function scenePanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelves = { evidence: pictureShelf(), marks: pictureShelf(), pages: pictureShelf(), paper: pictureShelf(), drawn: pictureShelf() };
  let words = { departments: [], states: [] };
  let shown = null;
  let forms = {}; // by what they are kept as: "scene", "intent", "safety", "variations", "figures:agnes", "needs:lamp"
  const opened = new Set(); // what was folded open, by the same names

  const which = choice([["", "choose a scene"]]);
  const fresh = h("input", { type: "text" });
  const refresh = button("Refresh", () => open(which.value), { hidden: true });

  const story = fieldSet(STORY);
  const dateWords = h("p", { class: "ra-hint", "aria-live": "polite" });
  const keyReference = fieldSet([["key_reference", "Key reference, on the cover", "choice"]]);
  const look = fieldSet(LOOK);
  const aims = fieldSet(TARGETS.flatMap(([name, key, , tolerance]) => [[key, name], [tolerance, `Tolerance. ${name}`]]).filter(([key]) => key));
  const palette = paletteSet();
  const takeFrom = choice([]);
  const like = rowSet("like", "Add a picture it is to be like", () => pictures()[0]?.[0] ?? "", (reference) => {
    const one = choice(pictures());
    one.value = reference;
    return { element: labelled("A picture it is to be like", one), read: () => one.value };
  });
  const variations = rowSet("variations", "Add another moment", () => ({ title: "", moment: "" }), (values) => {
    const own = fieldSet([["title", "Title"], ["moment", "What is seen", "words"]]);
    own.fill(values);
    return { element: h("div", { class: "ra-two" }, own.fields), read: () => ({ title: own.control.title.value.trim(), moment: own.control.moment.value.trim() }) };
  });
  const safetyGround = h("div", { class: "ra-two" });
  const figures = h("div", {});
  const newFigure = h("input", { type: "text" });
  const needs = h("div", {});
  const newName = h("input", { type: "text" });
  const newDepartment = choice([]);
  const newWords = h("input", { type: "text" });
  const money = h("div", {});
  const drawing = h("div", {});
  const department = choice([["", "the whole scene"]]);
  const lookAt = button("Show the pages", () => pages());
  const print_ = button("Make PDF and HTML", () => paper());
  const links = h("span", {});
  const sheets = h("ol", { class: "ra-pages", "aria-label": "Pages of the dossier" });

  const kept = (name, submit, title, ...children) => h("form", { class: "ra-sheet", "aria-label": title, submit: (event) => { event.preventDefault(); submit(); } }, h("h4", {}, title), ...children, h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main", "aria-label": `Save: ${title}` }, "Save")));
  const target = (key, unit) => (key ? [h("span", { class: "ra-target" }, aims.control[key], unit)] : "");
  TARGETS.forEach(([name, key, , tolerance]) => {
    if (key) aims.control[key].setAttribute("aria-label", name);
    if (tolerance) aims.control[tolerance].setAttribute("aria-label", `Tolerance: ${name}`);
  });

  const planText = h("textarea", { class: "ra-plan-text", spellcheck: "false", "aria-label": "The plan as it is written" });
  const planFold = h("details", { "data-name": "plan-text" }, h("summary", {}, "Open it"), planText,
    h("div", { class: "ra-row" }, button("Save the plan", () => writePlan(), { class: "ra-main" }), button("Read it again", () => readPlan())));
  planFold.addEventListener("toggle", () => { if (planFold.open && !planText.value) readPlan(); });

  const rest = h(
    "div", { hidden: true },
    kept("scene", () => save("scene", { scene: forms.scene.changed() }), "What is to be told",
      h("div", { class: "ra-grid" }, story.field.title, story.field.series, h("div", {}, story.field.date, dateWords), story.field.currency),
      h("div", { class: "ra-grid ra-gap" }, h("div", { class: "ra-span2" }, story.field.place), story.field.latitude, story.field.longitude),
      h("div", { class: "ra-two ra-gap" }, story.field.event, story.field.story, story.field.statements, story.field.misreadings, keyReference.fields)),
    kept("intent", () => save("intent", { intent: forms.intent.changed() }), "How it is to look",
      h("div", { class: "ra-two" }, look.fields),
      h("h5", { class: "ra-gap" }, "Colours that are meant"), palette.element,
      h("div", { class: "ra-row ra-add" }, labelled("Or take the main colours of", takeFrom), button("Take them", () => takeColours())),
      h("div", { class: "ra-scroll ra-gap", tabindex: "0", role: "group", "aria-label": "Targets and tolerances" },
        h("table", { class: "ra-table ra-targets" },
          h("thead", {}, h("tr", {}, ["Measured", "Target", "Tolerance"].map((one) => h("th", { scope: "col" }, one)))),
          h("tbody", {}, TARGETS.map(([name, key, unit, tolerance, of]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, target(key, unit)), h("td", {}, target(tolerance, of))))))),
      h("p", { class: "ra-hint" }, "A target left empty is not checked."),
      h("div", { class: "ra-gap" }, like.element)),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Figures"), figures,
      h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); addFigure(); } }, labelled("A further figure, by name", newFigure), h("button", { type: "submit" }, "Add the figure"))),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Needs, and what they rest on"), needs,
      h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); add(); } },
        labelled("A further need", newName), labelled("Department", newDepartment), labelled("In words", newWords), h("button", { type: "submit" }, "Add"))),
    kept("variations", () => save("variations", { variations: forms.variations.changed().variations ?? variations.read() }), "Other moments to be shot", variations.element),
    kept("safety", () => save("safety", { safety: forms.safety.changed() }), "Arrangements written down for the work",
      h("p", { class: "ra-small" }, "These words are printed as written. They do not replace local rules, nor the judgement of licensed and competent people, who decide."), safetyGround),
    h("div", { class: "ra-sheet" }, h("h4", {}, "The plan as it is written"),
      h("p", { class: "ra-small" }, "Place, tide, window and lights are written here, in [site] and [rig]; everything above stands here too. A mistake is answered with its line."), planFold),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Witnesses against time"), h("div", { class: "ra-row" }, button("Draw", () => draw())), drawing),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Finding, making, hiring: state and cost"), money),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Dossier"),
      h("div", { class: "ra-row ra-add" }, labelled("For", department), lookAt, print_, links), sheets),
  );

  const parts = h("nav", { class: "ra-row ra-parts", "aria-label": "Parts of this scene", hidden: true });
  panelRoot(
    el, "A scene and its dossier",
    h(
      "div", { class: "ra-sheet" },
      h("div", { class: "ra-row ra-add" }, labelled("Scene", which), refresh,
        h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); begin(); } }, labelled("Or begin a new one, by its title", fresh), h("button", { type: "submit" }, "Begin"))),
      told.status, told.work, told.alert, parts,
    ),
    rest,
  );
  parts.append(...[...rest.querySelectorAll("h4")].map((heading) => button(heading.textContent, () => {
    heading.scrollIntoView({ block: "start" });
    heading.setAttribute("tabindex", "-1");
    heading.focus({ preventScroll: true });
  })));
  which.addEventListener("change", () => open(which.value));
  understoodAsTyped(story.control.date, dateWords, (date) => ask("understand", { date }), ({ words: said }) => said);
  rest.addEventListener("input", () => told.say("Not saved yet."));

  const listed = (scenes) => refill(which, h("option", { value: "" }, "choose a scene"), ...scenes.map((one) => h("option", { value: one.slug }, one.title)));
  const pictures = () => Object.entries(shown?.references ?? {}).filter(([, one]) => one.kind === "image").map(([id, one]) => [id, one.title]);

  async function begin() {
    const got = await during(told, [], "Saving", () => ask("begin", { title: fresh.value }));
    if (!got) return;
    fresh.value = "";
    listed(got.answer.scenes);
    which.value = got.answer.slug;
    open(got.answer.slug);
  }

  async function open(slug) {
    if (!slug) { rest.hidden = refresh.hidden = parts.hidden = true; return; }
    const got = await during(told, [], "Opening", () => ask("open", { slug }));
    if (!got) return;
    forms = {};
    planText.value = "";
    planFold.open = false;
    show(got, "");
  }

  /** Ask for a change and show the scene as it is then; what went wrong, and what is typed elsewhere, stays on screen. */
  async function change(verb, given, said, done = null) {
    const revision = verb === "unlink" ? {} : { revision: shown.scene.revision };
    const got = await during(told, [], "Saving", () => ask(verb, { slug: shown.scene.slug, ...revision, ...given }));
    if (got) show(got, said, done);
    return Boolean(got);
  }

  const save = (name, given) => change("save", given, "Saved.", forms[name]);

  let planRevision = 0;
  async function readPlan(said = "") {
    const got = await during(told, [], "Reading the plan", () => ask("text", { slug: shown.scene.slug }));
    if (!got) return;
    planText.value = got.answer.text;
    planRevision = got.answer.revision;
    told.say(said);
  }

  async function writePlan() {
    const got = await during(told, [], "Saving", () => ask("write", { slug: shown.scene.slug, revision: planRevision, text: planText.value }));
    if (!got) return;
    show(got, "Saved.");
    readPlan(told.status.textContent);
  }

  async function takeColours() {
    const got = await during(told, [], "Reading colours", () => ask("colours", { reference: takeFrom.value }));
    if (!got) return;
    palette.put(got.answer.palette);
    told.say("Taken, with their shares of that picture. Not saved yet.");
  }

  async function marked(reference, changed) {
    const got = await during(told, [], "Fetching the picture", () => ask("picture", { name: reference }));
    if (!got) return null;
    told.say("");
    const marker = regionMarker(got.answer.title, changed);
    marker.image.src = shelves.marks.url(got.pictures[0]);
    return marker;
  }

  function show({ answer, pictures: previews }, said, done = null) {
    const typed = Object.fromEntries(Object.entries(forms).filter(([, form]) => form !== done).map(([name, form]) => [name, form.changed()]));
    shown = answer;
    const { scene } = shown;
    shelves.evidence.clear();
    shelves.marks.clear();
    const choices = pictures();
    const keys = [["", "none chosen"], ...choices];
    refill(keyReference.control.key_reference, ...keys.map(([value, title]) => h("option", { value }, title)));
    refill(takeFrom, ...choices.map(([value, title]) => h("option", { value }, title)));
    const safety = fieldSet(words.safety.map((topic) => [topic, topic[0].toUpperCase() + topic.slice(1), "long"]));
    refill(safetyGround, ...safety.fields);
    forms = { scene: together(story, keyReference), intent: together(look, aims, palette, like), variations, safety };
    forms.scene.fill(scene);
    forms.intent.fill({ ...scene.intent, palette: scene.palette, like: scene.like });
    variations.fill(scene);
    safety.fill(scene.safety);
    showFigures();
    showNeeds(previews);
    showMoney();
    for (const [name, values] of Object.entries(typed)) forms[name]?.restore(values);
    for (const fold of rest.querySelectorAll("details[data-name]")) {
      fold.open = opened.has(fold.dataset.name);
      fold.addEventListener("toggle", () => opened[fold.open ? "add" : "delete"](fold.dataset.name));
    }
    rest.hidden = refresh.hidden = parts.hidden = false;
    const unsaved = Object.values(forms).some((form) => Object.keys(form.changed()).length);
    told.say(`${said} Revision ${scene.revision}.${unsaved ? " Other changes on this page are not saved yet." : ""}`.trim());
  }

  function showFigures() {
    refill(figures, ...(shown.scene.figures.length ? shown.scene.figures.map((figure) => {
      const form = fieldSet(FIGURE);
      const name = `figures:${figure.slug}`;
      forms[name] = form;
      form.fill(figure);
      return h("details", { class: "ra-need", "data-name": name }, h("summary", {}, h("b", {}, figure.name), figure.action ? `: ${figure.action}` : ""),
        h("form", { submit: (event) => { event.preventDefault(); change("save", { figures: { [figure.slug]: form.changed() } }, "Saved.", form); } },
          h("div", { class: "ra-two ra-gap" }, form.fields),
          h("div", { class: "ra-row" }, h("button", { type: "submit" }, `Save ${figure.name}`), button("Remove this figure", () => change("remove", { kind: "figure", name: figure.slug }, `${figure.name} was removed; the history keeps them.`), { "aria-label": `Remove the figure ${figure.name}` }))));
    }) : [h("p", {}, "Nobody is in it yet.")]));
  }

  function showNeeds(previews) {
    const at = { words, scene: shown.scene, references: shown.references, shelf: shelves.evidence, pictures: previews, change, marked };
    const groups = words.departments.map((name) => [name, shown.needs.filter((need) => need.department === name)]).filter(([, those]) => those.length);
    refill(needs, ...(groups.length ? groups.flatMap(([title, those]) => [h("h5", { class: "ra-gap" }, title), ...those.map((need) => {
      const { element, form } = needView(need, at);
      forms[`needs:${need.slug}`] = form;
      element.dataset.name = `needs:${need.slug}`;
      element.querySelector(".ra-change").dataset.name = `change:${need.slug}`;
      return element;
    })]) : [h("p", {}, "The scene has no need yet.")]));
  }

  async function add() {
    const values = { name: newName.value, department: newDepartment.value, description: newWords.value };
    if (await change("add", { kind: "need", values }, "Added.")) newName.value = newWords.value = "";
  }

  async function addFigure() {
    if (await change("add", { kind: "figure", values: { name: newFigure.value } }, "Added.")) newFigure.value = "";
  }

  function showMoney() {
    const rows = shown.needs.map((need) => {
      const set = fieldSet([["state", "state", "choice", words.states.map((one) => [one, one])], ["supplier", "supplier", "words"], ...MONEY.map((name) => [name, name]), ["due", "due", "words"], ["owner", "owner", "words"]]);
      set.fill(need.sourcing);
      for (const [name, control] of Object.entries(set.control)) control.setAttribute("aria-label", `${name}: ${need.name}`);
      return { need, set };
    });
    const whole = {
      changed: () => Object.fromEntries(rows.map(({ need, set }) => [need.slug, set.changed()]).filter(([, values]) => Object.keys(values).length)),
      restore: (values) => rows.forEach(({ need, set }) => set.restore(values[need.slug] ?? {})),
    };
    forms.money = whole;
    const sum = (name) => shown.needs.reduce((total, need) => total + (need.sourcing[name] ?? 0), 0);
    const named = ["Need", "Pieces", "State", "Supplier", "Deposit", "Estimate", "Actual", "Due", "Owner"];
    refill(money,
      h("div", { class: "ra-scroll", tabindex: "0", role: "group", "aria-label": "State and cost of each need" },
        h("table", { class: "ra-table ra-money" },
          h("thead", {}, h("tr", {}, named.map((one) => h("th", { scope: "col" }, one)))),
          h("tbody", {}, rows.map(({ need, set }) => h("tr", {}, h("th", { scope: "row" }, need.name), h("td", { class: "ra-number" }, String(need.pieces)), Object.values(set.control).map((control) => h("td", {}, control))))),
          h("tfoot", {}, h("tr", {}, h("th", { scope: "row" }, `In all ${shown.scene.currency}`), h("td", { class: "ra-number" }, String(shown.needs.reduce((total, need) => total + need.pieces, 0))), h("td"), h("td"), MONEY.map((name) => h("td", { class: "ra-number" }, shown.needs.some((need) => need.sourcing[name] !== null) ? sum(name).toFixed(2) : "–")), h("td"), h("td"))),
        )),
      h("div", { class: "ra-row" }, button("Save states and costs", () => {
        const given = Object.fromEntries(Object.entries(whole.changed()).map(([slug, sourcing]) => [slug, { sourcing }]));
        change("save", { needs: given }, "Saved.", whole);
      })),
    );
  }

  async function draw() {
    const got = await atLength(told, ask, [], "Drawing", "figure", { slug: shown.scene.slug });
    if (!got) return;
    shelves.drawn.clear();
    const said = ["Needs against time, one mark for each independent witness, hollow where it speaks against", "References against time, each over the span it may be from"];
    refill(drawing, ...said.map((alt, place) => h("img", { class: "ra-drawn", src: shelves.drawn.url(got.pictures[place], "image/png"), alt })));
    told.say("");
  }

  async function set(given, said) {
    const got = await atLength(told, ask, [lookAt, print_], "Setting the pages", "dossier", { slug: shown.scene.slug, department: department.value, ...given });
    if (got) told.say(said(got.answer));
    return got;
  }

  async function pages() {
    const got = await set({}, ({ pages: count }) => `${count} pages.`);
    if (!got) return;
    shelves.pages.clear();
    refill(sheets, ...got.pictures.map((page, place) => h("li", {}, h("img", { src: shelves.pages.url(page, "image/png"), alt: `Page ${place + 1} of ${got.answer.pages}` }))));
  }

  async function paper() {
    const got = await set({ paper: true }, ({ pages: count }) => `Made, ${count} pages.`);
    if (!got) return;
    shelves.paper.clear();
    refill(links, ...got.answer.names.flatMap((name, place) => [h("a", { href: shelves.paper.url(got.pictures[place], name.endsWith(".pdf") ? "application/pdf" : "text/html"), download: name }, `Save ${name}`), " "]));
  }

  ask("start").then(({ answer }) => {
    words = answer;
    listed(answer.scenes);
    newDepartment.append(...answer.departments.map((one) => h("option", { value: one }, one)));
    department.append(...answer.departments.map((one) => h("option", { value: one }, one)));
    which.value = model.get("scene");
    if (which.value) open(which.value);
    else told.say(answer.scenes.length ? "" : "The archive has no scene yet. Begin one by its title.");
  }, told.problem);

  return () => {
    for (const one of Object.values(shelves)) one.clear();
    ask.end();
  };
}

export default { render: ({ model, el }) => scenePanel(model, el) };
