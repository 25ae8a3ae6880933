// Going out: the series and its order, caption and note, what rests on what, permissions, editions, and the final file.

const OUT_PARTS = [["series", "The series"], ["words", "Caption and note"], ["statement", "What rests on what"], ["particulars", "Particulars"], ["leave", "Permissions"], ["editions", "Editions"], ["files", "Files"]];
const PLACE = [["sublocation", "Place"], ["city", "Town or village"], ["province", "County or province"], ["country", "Country"], ["country_code", "Country code (ISO 3166)"], ["latitude", "Latitude, degrees north"], ["longitude", "Longitude, degrees east"]];

function publishPanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelves = { picture: pictureShelf(), series: pictureShelf(), paper: pictureShelf() };
  const scene = choice([["", "choose a scene"]]);
  const frame = choice([]);
  const picture = h("img", { class: "ra-plot", alt: "" });
  const nav = h("nav", { class: "ra-row ra-parts", "aria-label": "Parts of going out", hidden: true }, OUT_PARTS.map(([name, words]) => button(words, () => show(name), { "data-part": name, "aria-pressed": "false" })));
  let shown = null;
  let words = { leave_kinds: [], leave: [], standings: [], source_types: [] };

  // The series.
  const figure = h("div", {});
  const besides = h("div", {});
  const order = h("ol", { class: "ra-list ra-order", "aria-label": "The order" });
  const orderNote = h("input", { type: "text" });
  const arrangement = choice([]);
  const measure = choice([]);
  const proposed = h("div", {});
  let places = [];
  const series = h("div", { class: "ra-sheet" }, h("h4", {}, "The series in order"), figure, order,
    h("div", { class: "ra-row ra-add" }, labelled("Why this order", orderNote), button("Keep this order", () => keepOrder()), button("Make the series page (PDF)", () => seriesPage())),
    h("h5", { class: "ra-gap" }, "Another order, as figures"), h("div", { class: "ra-row ra-add" }, labelled("Order", arrangement), labelled("By", measure), button("Propose", () => propose())), proposed, besides);

  // Words.
  const texts = fieldSet([["title", "Title"], ["headline", "Headline"], ["caption", "Caption", "long"], ["note", "Historical note", "long"], ["alt_text", "What is to be seen, for those who cannot see it (alt text)", "long"]]);
  const captionDraft = h("div", {});
  const noteDraft = h("div", {});
  const missing = h("div", {});
  const hints = h("div", {});
  const save = (title, change) => h("div", { class: "ra-row" }, button("Save", () => keep(change()), { class: "ra-main", "aria-label": `Save: ${title}` }));
  const captions = h("div", { class: "ra-sheet" }, h("h4", {}, "Caption and historical note"),
    h("p", { class: "ra-small" }, "The drafts are put together from the scene's own record; every sentence says what it rests on. The words that go out are yours."),
    h("div", { class: "ra-grid" }, texts.field.title, texts.field.headline),
    h("div", { class: "ra-words" }, h("div", { class: "ra-short" }, texts.field.caption), captionDraft, h("div", {}, texts.field.note), noteDraft, h("div", { class: "ra-short" }, texts.field.alt_text), hints),
    h("details", { class: "ra-gap" }, h("summary", {}, "What the record lacks"), missing),
    save("Caption and historical note", () => texts.changed()));

  // What rests on what, by region.
  const marker = regionMarker("The picture, to mark a part", () => {});
  const partName = h("input", { type: "text" });
  const partStanding = choice([]);
  const partNeed = choice([]);
  const partWhy = h("input", { type: "text" });
  const partList = h("ul", { class: "ra-list", "aria-label": "Parts of the picture" });
  const statementWords = h("div", {});
  const statement = h("div", { class: "ra-sheet" }, h("h4", {}, "What in the picture is supported, inferred, invented or unknown"),
    h("div", { class: "ra-two" }, marker.element, h("div", { class: "ra-mark-form" }, h("p", { class: "ra-hint" }, HOW_TO_MARK), labelled("What it is", partName), labelled("Need of the scene", partNeed), labelled("It is", partStanding), labelled("Why", partWhy), h("div", { class: "ra-row" }, button("Keep this part", () => addPart())))),
    h("p", { class: "ra-small" }, "Outlines: whole, supported; broken, inferred; dotted, invented; broken and dotted, unknown."), partList, statementWords, h("div", { class: "ra-row" }, button("Make the statement (PDF)", () => paper("statement"))));

  // Particulars, permissions, editions.
  const particulars = fieldSet([["creator", "Photographer"], ["credit_line", "Credit line"], ["copyright_notice", "Copyright notice"], ["usage_terms", "Terms of use", "words"], ["web_statement", "Web statement of rights (an address)"], ["rights", "Rights: a statement or licence"], ["created", "Day of the shoot"], ["event", "Event"], ["keywords", "Keywords, a line each", "list"], ["persons", "Persons shown, a line each", "list"], ["contributors", "Who worked on it, a line each (name: what)", "credits"], ["thanks", "Thanks, a line each", "list"], ["source_type", "How the picture came about", "choice"]]);
  const takenAt = fieldSet(PLACE);
  const shownPlace = fieldSet(PLACE);
  const placeOf = (title, set) => h("fieldset", {}, h("legend", {}, title), h("div", { class: "ra-grid" }, set.fields));
  const about = together(particulars, within("taken_at", takenAt), within("shown", shownPlace));
  const particularsSheet = h("div", { class: "ra-sheet" }, h("h4", {}, "Particulars"), h("div", { class: "ra-grid" }, particulars.fields), placeOf("Where it was taken", takenAt), placeOf("The place that is shown", shownPlace),
    h("p", { class: "ra-small ra-gap" }, "The public version leaves out exact coordinates and the names of persons without a release."), save("Particulars", () => about.changed()));
  const rowOf = (spec, values) => {
    const set = fieldSet(spec);
    set.fill(Object.fromEntries(Object.entries(values).map(([key, value]) => [key, String(value)])));
    return { element: h("div", { class: "ra-grid" }, set.fields), read: () => Object.fromEntries(Object.entries(set.control).map(([key, control]) => [key, control.value.trim()])) };
  };
  const leaves = rowSet("leaves", "Add a permission or release", () => ({ kind: "model", who: "", what: "", state: "not asked", evidence: "", until: "" }), (values) => rowOf([["kind", "For", "choice", words.leave_kinds.map((one) => [one, one])], ["who", "Of whom"], ["what", "For what"], ["state", "Where it stands", "choice", words.leave.map((one) => [one, one])], ["evidence", "Where that can be read"], ["until", "Until (a day)"]], values));
  const checklist = h("div", {});
  const leaveSheet = h("div", { class: "ra-sheet" }, h("h4", {}, "Permissions and releases"), leaves.element, save("Permissions and releases", () => leaves.changed()), checklist);
  const editions = rowSet("editions", "Add a size", () => ({ name: "", width_mm: "", height_mm: "", count: "", proofs: "0", made: "0", placed: "0", paper: "", note: "" }), (values) => rowOf([["name", "Name"], ["width_mm", "Width, mm"], ["height_mm", "Height, mm"], ["count", "How many"], ["proofs", "Proofs beside"], ["made", "Made"], ["placed", "Sold, given, lent for good"], ["paper", "Paper"], ["note", "Note"]], values));
  const editionTable = h("div", { class: "ra-scroll" });
  const editionSheet = h("div", { class: "ra-sheet" }, h("h4", {}, "Editions and print sizes"), editions.element, save("Editions and print sizes", () => editions.changed()), editionTable);

  // Files.
  const links = h("ul", { class: "ra-list", "aria-label": "Files" });
  const files = h("div", { class: "ra-sheet" }, h("h4", {}, "Files"), h("p", {}, "A copy of the final file, its picture untouched, with all this written into it."),
    h("div", { class: "ra-row" }, button("The public version", () => paper("public")), button("The private version", () => paper("private")), button("Caption, note and statement (PDF)", () => paper("pages"))), links);

  const sheets = { series, words: captions, statement, particulars: particularsSheet, leave: leaveSheet, editions: editionSheet, files };
  Object.values(sheets).forEach((one) => { one.hidden = true; });
  panelRoot(el, "Putting it out", h("div", { class: "ra-sheet" }, h("div", { class: "ra-head" }, h("div", {}, labelled("Scene", scene), labelled("Frame", frame)), picture), told.status, told.work, told.alert, nav), ...Object.values(sheets));
  let current = "series";
  function show(name) {
    current = name;
    nav.querySelectorAll("button").forEach((one) => one.setAttribute("aria-pressed", String(one.dataset.part === name)));
    Object.entries(sheets).forEach(([own, sheet]) => { sheet.hidden = own !== name; });
  }
  scene.addEventListener("change", () => open());
  frame.addEventListener("change", () => open(frame.value));
  el.addEventListener("input", (event) => { if (event.target !== scene && event.target !== frame && shown) told.say("Not saved yet."); });

  async function open(name = "") {
    if (!scene.value) return;
    const got = await during(told, [], "Opening", () => ask("open", { slug: scene.value, frame: name }));
    if (got) fill(got, "");
  }
  function fill({ answer, pictures }, said) {
    shown = answer;
    shelves.picture.clear();
    const url = pictures.length ? shelves.picture.url(pictures[0]) : "";
    picture.src = url;
    picture.alt = shown.name;
    marker.image.src = url;
    marker.region = null;
    marker.element.querySelectorAll(".ra-part").forEach((one) => one.remove());
    marker.element.append(...shown.values.parts.map(({ region, standing }, place) => placed(h("div", { class: `ra-box ra-part${region[1] < 0.06 ? " ra-below" : ""}`, "data-word": standing, "aria-hidden": "true" }, h("span", {}, String(place + 1))), region)));
    refill(frame, ...shown.frames.map((one) => h("option", { value: one.id }, one.words)));
    frame.value = shown.frame;
    for (const set of [texts, about, leaves, editions]) set.fill(shown.values);
    const claims = (title, draft, use) => [h("h5", {}, title), h("p", { class: "ra-caption ra-drafted" }, draft.text || "The record says too little for a draft."), h("details", {}, h("summary", {}, "What each part rests on"), h("ul", { class: "ra-list" }, draft.claims.map((one) => h("li", {}, one.text, h("span", { class: "ra-small" }, ` ${one.rests_on}`))))), ...draft.told.map((one) => h("p", { class: "ra-small" }, one)), draft.text ? button("Use the draft", use) : ""];
    const put = (key, text) => () => { texts.control[key].value = text; told.say("Not saved yet."); };
    refill(captionDraft, ...claims("Caption, drafted", shown.caption, put("caption", shown.caption.text)));
    refill(noteDraft, ...claims("Note, drafted", shown.note, put("note", shown.note.text)));
    refill(hints, ...shown.alt_hints.map((one) => h("p", { class: "ra-small" }, one)));
    refill(missing, ...shown.missing.map((one) => h("p", { class: "ra-small" }, one)));
    refill(partNeed, h("option", { value: "" }, "none"), ...shown.needs.map((one) => h("option", { value: one.slug }, one.name)));
    refill(partList, ...shown.parts.map((one, place) => h("li", {}, `${place + 1}. `, h("b", {}, one.name), `: ${one.standing}. ${one.why} `, h("span", { class: "ra-small" }, one.proposed), " ", button("Take out", () => keep({ parts: shown.values.parts.filter((_, other) => other !== place) }), { "aria-label": `Take out ${one.name}` }))));
    refill(statementWords, ...shown.statement.map((one) => h("p", { class: "ra-small" }, one)));
    const rows = (title, items) => h("ul", { class: "ra-list", "aria-label": title }, items.map((one) => h("li", {}, one)));
    refill(checklist, h("h5", { class: "ra-gap" }, "What is recorded, and what lacks"), h("p", {}, shown.checklist.summary), rows("What is recorded", shown.checklist.open),
      h("details", {}, h("summary", {}, `Nothing noted as open: ${shown.checklist.rest.length}`), rows("Nothing noted as open", shown.checklist.rest)), h("p", { class: "ra-small ra-gap" }, shown.checklist.caution));
    const head = shown.editions.columns;
    refill(editionTable, shown.editions.rows.length ? h("table", { class: "ra-table ra-gap" }, h("thead", {}, h("tr", {}, head.map((one) => h("th", { scope: "col" }, one)))), h("tbody", {}, shown.editions.rows.map((row) => h("tr", {}, row.map((cell) => h("td", {}, cell)))))) : "", ...shown.editions.told.map((one) => h("p", { class: "ra-small" }, one)));
    fillSeries(shown.series);
    nav.hidden = false;
    show(current);
    told.say(said);
    drawSeries();
  }
  async function keep(values) {
    if (!Object.keys(values).length) return told.say("Nothing was changed.");
    const got = await during(told, [], "Saving", () => ask("keep", { slug: scene.value, frame: shown.frame, revision: shown.revision, values }));
    if (got) fill(got, "Saved.");
  }
  function addPart() {
    if (!marker.region) return told.problem({ sentence: "Nothing is marked.", step: "Draw a box on the picture first." });
    if (!partStanding.value) return told.problem({ sentence: "No word was chosen.", step: "Say whether it is supported, inferred, invented or unknown." });
    const part = { name: partName.value.trim() || (partNeed.value && shown.needs.find((one) => one.slug === partNeed.value).name), region: marker.region, standing: partStanding.value, need: partNeed.value, why: partWhy.value.trim() };
    keep({ parts: [...shown.values.parts, part] });
    partName.value = partWhy.value = "";
  }

  // --- the series ---
  function fillSeries({ pictures, measures, arrangements = [], told: words_ }) {
    refill(arrangement, ...arrangements.map((one) => h("option", { value: one }, one)));
    places = [...pictures];
    refill(measure, ...measures.map((one) => h("option", { value: one }, one)));
    refill(proposed, ...words_.map((one) => h("p", { class: "ra-small" }, one)));
    drawOrder();
  }
  function drawOrder() {
    const move = (at, by) => { const [one] = places.splice(at, 1); places.splice(at + by, 0, one); drawOrder(); order.children[at + by].querySelector("button").focus(); told.say("Not kept yet."); };
    refill(order, ...places.map((one, at) => h("li", {}, `${at + 1}. ${one.title} `, at ? button("Earlier", () => move(at, -1), { "aria-label": `${one.title}: earlier` }) : "", " ", at < places.length - 1 ? button("Later", () => move(at, 1), { "aria-label": `${one.title}: later` }) : "")));
  }
  async function drawSeries() {
    const got = await atLength(told, ask, [], told.status.textContent, "series", { slug: scene.value, frame: shown.frame });
    if (!got) return;
    shelves.series.clear();
    const beside = (one) => [h("b", {}, one.pair), ` ${one.words}`, one.repeats.length ? h("details", {}, h("summary", { "aria-label": `What repeats: ${one.pair}` }, `What repeats: ${one.repeats.length}`), h("ul", { class: "ra-list" }, one.repeats.map((line) => h("li", {}, line)))) : ""];
    const list = (title, items) => (items.length ? [h("h5", { class: "ra-gap" }, title), h("ul", { class: "ra-list", "aria-label": title }, items)] : []);
    refill(figure, ...got.pictures.map((one) => h("img", { class: "ra-plan", src: shelves.series.url(one, "image/png"), alt: got.answer.alt })));
    refill(besides, ...list("Neighbours", got.answer.neighbours.map((one) => h("li", {}, beside(one)))), ...list("Along the series", got.answer.rhythm.map((one) => h("li", {}, one))),
      got.answer.seats.length ? h("details", { class: "ra-gap" }, h("summary", {}, "Where this frame would sit"), h("p", {}, got.answer.tried), h("ul", { class: "ra-list", "aria-label": "Where this frame would sit" }, got.answer.seats.map((seat) => h("li", {}, h("i", {}, seat.where), seat.beside.map((one) => h("p", {}, beside(one))))))) : "");
  }
  async function keepOrder() {
    const got = await during(told, [], "Saving", () => ask("order", { slug: scene.value, frame: shown.frame, frames: places.map((one) => one.id), note: orderNote.value }));
    if (got) { orderNote.value = ""; fill(got, "The order is kept, beside those before."); }
  }
  async function propose() {
    const got = await atLength(told, ask, [], "Working it out", "propose", { slug: scene.value, arrangement: arrangement.value, measure: measure.value });
    if (!got) return;
    refill(proposed, ...got.answer.words.map((one) => h("p", {}, one)), button("Put them so, to look at", () => { places = got.answer.frames.map((id) => places.find((one) => one.id === id)); drawOrder(); told.say("Not kept yet."); }));
    told.say("");
  }
  const seriesPage = () => paper("series_page");

  async function paper(verb) {
    const given = { slug: scene.value, frame: shown.frame };
    const got = await (verb === "public" || verb === "private" ? atLength(told, ask, [], "Writing", "file", { ...given, public: verb === "public" }) : atLength(told, ask, [], "Writing", verb, given));
    if (!got) return;
    links.append(h("li", {}, h("a", { href: shelves.paper.url(got.pictures[0], got.answer.type), download: got.answer.name }, `Save ${got.answer.name}`), h("span", { class: "ra-small" }, ` ${got.answer.words}`)));
    show("files");
    told.say(got.answer.words);
  }

  ask("start").then(({ answer }) => {
    words = answer;
    refill(partStanding, h("option", { value: "" }, "choose a word"), ...answer.standings.map((one) => h("option", { value: one }, one)));
    refill(particulars.control.source_type, h("option", { value: "" }, "not said"), ...answer.source_types.map(([value, said]) => h("option", { value }, said)));
    scene.append(...answer.scenes.map((one) => h("option", { value: one.slug }, one.title)));
    scene.value = model.get("scene");
    if (scene.value) open();
    else told.say(answer.scenes.length ? "" : "No scene has a frame yet.");
  }, told.problem);

  return () => { Object.values(shelves).forEach((one) => one.clear()); ask.end(); };
}

export default { render: ({ model, el }) => publishPanel(model, el) };
