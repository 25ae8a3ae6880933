// Find: a request at the top, a sheet of results below, and what each may be used for.

function findPanel(model, el) {
  const ask = asker(model);
  const shelf = pictureShelf();
  const markShelf = pictureShelf();
  const told = notices();
  const steered = { more: new Map(), less: new Map() };
  let upload_ = "";
  let likeReference = "";
  let page = 0;

  // The request.
  const words = h("input", { type: "search", placeholder: "women with baskets on wet sand" });
  const when = h("input", { type: "text", placeholder: "1868/1874" });
  const understood = h("p", { class: "ra-hint" });
  const beyond = h("input", { type: "checkbox", id: `ra-${++labels}` });
  const kind = choice([["", "any"], ["image", "pictures"], ["text", "texts"], ["object", "object records"]]);
  const witness = choice([["", "any"]]);
  const place = h("input", { type: "text" });
  const rights = h("input", { type: "text" });
  const subject = h("input", { type: "text", placeholder: "baskets, or 47I2" });
  const wider = choice([["0", "and all beneath it"], ["1", "one step wider"], ["2", "two steps wider"]], { "aria-label": "How wide the subject is taken" });
  const offered = h("div", { class: "ra-wide ra-row ra-offered" });
  const inScene = choice([["", "all references"]]);
  const useColour = h("input", { type: "checkbox", id: `ra-${++labels}` });
  const colour = h("input", { type: "color", value: "#8a6f4d", "aria-label": "The colour" });
  const file = h("input", { type: "file", accept: "image/*" });
  const likeWords = h("p", { class: "ra-hint" });
  const marker = regionMarker("The picture to find alike", (region) => {
    refill(regionWords, region ? regionSaid(region) : "The whole picture counts. Draw a box to ask for a part.");
  });
  const regionWords = h("p", { class: "ra-hint" });
  const likeArea = h(
    "div", { class: "ra-wide ra-like", hidden: true }, marker.element,
    h("div", {}, regionWords, h("div", { class: "ra-row" }, button("No picture", () => clearLike()))),
  );
  const steering = h("p", { class: "ra-hint ra-wide" });
  const go = h("button", { type: "submit", class: "ra-main" }, "Find"); // so that Enter in any field finds

  // What findings are used for.
  const scene = choice([["", "choose a scene"]]);
  const need = choice([["", "choose a need"]]);
  const relation = choice([]);
  const note = h("input", { type: "text" });
  let scenes = [];

  const results = h("ol", { class: "ra-results", "aria-label": "Found" });
  const summary = h("p", {});
  const before = button("Page before", () => find(page - 1), { hidden: true });
  const after = button("Next page", () => find(page + 1), { hidden: true });
  const sheet = h("div", { class: "ra-sheet", hidden: true }, summary, before, " ", after);

  panelRoot(
    el, "Find references",
    h(
      "form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); find(0); } },
      h("div", { class: "ra-row ra-ask" }, labelled("What is to be seen, or read of", words), go),
      h(
        "div", { class: "ra-grid ra-gap" },
        h("div", { class: "ra-field" }, labelled("Period", when), h("span", { class: "ra-tick" }, beyond, h("label", { for: beyond.id }, "also outside the period")), understood),
        labelled("Kind", kind), labelled("Kind of witness", witness), labelled("Place", place), labelled("Rights", rights),
        h("div", { class: "ra-span2 ra-subject" }, labelled("Subject", subject), wider, button("Look up", () => lookUp(), { "aria-label": "Look up subjects" })),
        labelled("Used in the scene", inScene),
        h(
          "div", { class: "ra-field" }, h("span", { class: "ra-legend" }, "Colour"),
          h("div", { class: "ra-colour" }, h("span", { class: "ra-tick" }, useColour, h("label", { for: useColour.id }, "ask for it")), colour),
        ),
        labelled("Like a picture file", file, likeWords),
        offered, likeArea, steering,
      ),
      told.status, told.work, told.alert,
    ),
    h(
      "div", { class: "ra-sheet" },
      h("h4", {}, "Use what is found as evidence for"),
      h("div", { class: "ra-grid" }, labelled("Scene", scene), labelled("Need", need), labelled("The reference", relation), labelled("Note", note)),
    ),
    sheet, results,
  );

  const regionSaid = ([x, y, width, height]) =>
    `Asked for: the part ${Math.round(100 * width)} % wide and ${Math.round(100 * height)} % high, ` +
    `${Math.round(100 * x)} % from the left, ${Math.round(100 * y)} % from the top.`;

  understoodAsTyped(when, understood, (date) => ask("understand", { date }), ({ words: said }) => said);

  file.addEventListener("change", async () => {
    const chosen = file.files[0];
    if (!chosen) return;
    await during(told, [go], `Reading ${chosen.name}`, async () => {
      upload_ = await upload(ask, chosen);
      likeReference = "";
      showLike(URL.createObjectURL(chosen), chosen.name, true);
      told.say("");
    });
  });

  async function lookUp() {
    const got = await atLength(told, ask, [], "Looking up subjects", "subjects", { words: subject.value });
    if (!got) return;
    refill(offered, ...got.answer.subjects.map(({ code, text }) => button(`${code} ${text}`, () => { subject.value = code; refill(offered); subject.focus(); })));
    told.say(got.answer.subjects.length ? "Subjects of Iconclass: choose one." : "Iconclass has no word for it; the words you wrote are compared as they are.");
  }

  function showLike(url, name, own = false) {
    markShelf.clear();
    marker.image.src = url;
    if (own) marker.image.addEventListener("load", () => URL.revokeObjectURL(url), { once: true });
    refill(likeWords, `Like: ${name}`);
    likeArea.hidden = false;
    marker.region = null;
  }

  function clearLike() {
    upload_ = likeReference = file.value = "";
    likeArea.hidden = true;
    refill(likeWords);
    marker.region = null;
    markShelf.clear();
  }

  function fillNeeds() {
    const chosen = scenes.find((one) => one.slug === scene.value);
    refill(need,
      h("option", { value: "" }, "choose a need"),
      ...(chosen?.needs ?? []).map((one) => h("option", { value: one.slug }, one.name)),
    );
  }
  scene.addEventListener("change", () => { fillNeeds(); keep(); });
  need.addEventListener("change", () => keep());
  const keep = () => {
    model.set("scene", scene.value);
    model.set("need", need.value);
    model.save_changes();
  };

  function steer(way, hit) {
    const other = way === "more" ? "less" : "more";
    steered[other].delete(hit.reference);
    if (steered[way].has(hit.reference)) steered[way].delete(hit.reference);
    else steered[way].set(hit.reference, hit.title);
    tellSteering();
  }

  function tellSteering() {
    const parts = [["More like", steered.more], ["less like", steered.less]]
      .filter(([, those]) => those.size)
      .map(([said, those]) => `${said} ${[...those.values()].map((title) => `“${title}”`).join(", ")}`);
    const undo = button("Forget that", () => { steered.more.clear(); steered.less.clear(); tellSteering(); refreshSteering(); });
    refill(steering, ...(parts.length ? [parts.join("; "), ". Find again to follow it. ", undo] : []));
    refreshSteering();
  }

  function refreshSteering() {
    for (const one of results.querySelectorAll("button[data-way]"))
      one.setAttribute("aria-pressed", String(steered[one.dataset.way].has(one.dataset.reference)));
  }

  async function find(wanted) {
    if (go.getAttribute("aria-disabled")) return;
    const given = {
      words: words.value, when: when.value, kind: kind.value, witness: witness.value, place: place.value,
      rights: rights.value, subject: subject.value, wider: subject.value.trim() ? Number(wider.value) : 0, scene: inScene.value, beyond_period: beyond.checked, colour: useColour.checked ? colour.value : "",
      more: [...steered.more.keys()], less: [...steered.less.keys()], page: wanted, upload: upload_, like: likeReference,
      region: (upload_ || likeReference) && marker.region ? marker.region : null,
    };
    const got = await atLength(told, ask, [go, before, after], "Looking through the archive", "find", given);
    if (!got) return;
    page = got.answer.page;
    show(got.answer, got.pictures);
  }

  function show({ hits, notes, first, more }, pictures) {
    shelf.clear();
    results.start = first + 1;
    refill(results, ...hits.map((hit) => result(hit, pictures)));
    const kinds = [["picture", "pictures", (one) => one.kind === "image"], ["passage of a text", "passages of texts", (one) => one.kind === "text"], ["object record", "object records", (one) => one.kind === "object"]]
      .map(([single, several, is]) => [hits.filter(is).length, single, several]).filter(([count]) => count).map(([count, single, several]) => `${count} ${count === 1 ? single : several}`);
    refill(summary,
      hits.length ? `Found, best first: ${kinds.join(", ")}${first || more ? ` on this page (${first + 1} to ${first + hits.length}${more ? ", and more" : ""})` : ""}.` : "Nothing was found. Ask for less, or leave out a filter.",
      ...notes.flatMap((one) => [h("br"), one]),
    );
    before.hidden = first === 0;
    after.hidden = !more;
    sheet.hidden = false;
    refreshSteering();
    told.say(hits.length ? `${hits.length} ${hits.length === 1 ? "answer" : "answers"} shown.` : "Nothing found.");
  }

  function result(hit, pictures) {
    const shown = hit.picture === null || hit.picture === undefined
      ? h("div", { class: "ra-text" }, hit.passage || hit.title)
      : h("img", { src: shelf.url(pictures[hit.picture]), alt: hit.title, loading: "eager" });
    const used = h("p", { class: "ra-small", "aria-live": "polite" });
    return h(
      "li", {},
      h("div", { class: "ra-picture" }, shown),
      h("p", { class: "ra-caption" }, h("b", {}, `${hit.rank}. `), hit.title),
      h("p", { class: "ra-small" }, [hit.date_shown, hit.witness, hit.creator].filter(Boolean).join(" · ")),
      hit.passage && hit.kind !== "image" ? h("p", { class: "ra-caption" }, `“${hit.passage.slice(0, 220)}${hit.passage.length > 220 ? "…" : ""}”`) : null,
      h("div", { class: "ra-small" }, hit.in_short, " ", h("details", { class: "ra-how" }, h("summary", { "aria-label": `How it was found: ${hit.title}` }, "How it was found"), hit.reasons)),
      hit.outside_period ? h("p", { class: "ra-small" }, `Outside the period: ${hit.outside_period}.`) : null,
      ...hit.cautions.map((one) => h("p", { class: "ra-small" }, one)),
      h(
        "div", { class: "ra-row ra-acts" },
        button("Use as evidence", () => link(hit, used), { "aria-label": `Use as evidence: ${hit.title}` }),
        hit.kind === "image" ? button("Ask for its like", () => likeThis(hit), { "aria-label": `Ask for its like: ${hit.title}` }) : null,
        button("More like it", () => steer("more", hit), { "data-way": "more", "data-reference": hit.reference, "aria-pressed": "false" }),
        button("Less like it", () => steer("less", hit), { "data-way": "less", "data-reference": hit.reference, "aria-pressed": "false" }),
      ),
      used,
    );
  }

  async function likeThis(hit) {
    const got = await during(told, [go], `Fetching ${hit.title}`, () => ask("picture", { name: hit.reference }));
    if (!got) return;
    upload_ = file.value = "";
    likeReference = hit.reference;
    const url = (markShelf.clear(), markShelf.url(got.pictures[0]));
    marker.image.src = url;
    refill(likeWords, `Like: ${hit.title}`);
    likeArea.hidden = false;
    marker.region = null;
    told.say("Mark a part of it, or find with the whole.");
    marker.element.focus();
  }

  async function link(hit, used) {
    const given = { scene: scene.value, need: need.value, reference: hit.reference, relation: relation.value, note: note.value };
    const part = hit.reference === likeReference && marker.region ? marker.region : null;
    const got = await during(told, [], "Saving", () => ask("link", { ...given, region: part }));
    if (!got) return refill(used);
    refill(used, got.answer.words);
    told.say(got.answer.words);
  }

  ask("start").then(({ answer }) => {
    scenes = answer.scenes;
    witness.append(...answer.witnesses.map((one) => h("option", { value: one }, one)));
    relation.append(...answer.relations.map((one) => h("option", { value: one }, one)));
    for (const list of [scene, inScene]) list.append(...scenes.map((one) => h("option", { value: one.slug }, one.title)));
    scene.value = model.get("scene");
    fillNeeds();
    need.value = model.get("need");
    told.say(`${answer.references} references; pictures are compared by ${answer.encoder}.`);
  }, told.problem);

  return () => {
    shelf.clear();
    markShelf.clear();
    ask.end();
  };
}

export default { render: ({ model, el }) => findPanel(model, el) };
