// One need of a scene: what it rests on, what is asked of it, how each piece of evidence fits, and what it is to be.

const NEED_FIELDS = [
  ["name", "Name"], ["figure", "For", "choice"], ["prominence", "Seen", "choice", [["", "not said"], ["close-up", "close-up"], ["background", "in the background"]]],
  ["description", "In words", "long"], ["do", "Do, a line each", "list"], ["dont", "Don't, a line each", "list"],
  ["substitutes", "May stand in its place, a line each", "list"], ["breakdown", "Stages of wear, a line each", "list"],
];
const PIECES = [["hero", "Hero"], ["wet_doubles", "Wet doubles"], ["spare", "Spare"], ["why", "The sum in words", "words"]];
const counted = (count, one, more) => `${count} ${count === 1 ? one : more}`;

/** `at` is the scene as shown: {words, scene, references, shelf, pictures, change(verb, given, said), told, marked(reference)}. */
function needView(need, at) {
  const open = new Set();
  const figures = [["", "nobody"], ...at.scene.figures.map((one) => [one.slug, one.name])];
  const plain = fieldSet(NEED_FIELDS.map(([key, label, kind, options]) => [key, label, kind, key === "figure" ? figures : options]));
  const facts = fieldSet(Object.entries(at.words.facts[need.department]).map(([key, label]) => [key, label, "words"]));
  const quantity = fieldSet(PIECES);
  const swatches = swatchSet(at);
  const form = together(plain, within("facts", facts), within("quantity", quantity), swatches);
  form.fill(need);

  const standing = [
    need.gap ? "nothing supports it" : counted(need.witnesses, "independent witness", "independent witnesses"),
    need.against ? `${need.against} against` : "", need.questions.length ? counted(need.questions.length, "open question", "open questions") : "",
  ].filter(Boolean).join(", ");
  const element = h(
    "details", { class: "ra-need" },
    h("summary", {}, h("b", {}, need.name), `: ${standing}`),
    need.description ? h("p", { class: "ra-caption" }, need.description) : null,
    h("p", { class: "ra-small" }, need.change),
    need.questions.map((one) => question(need, one, at)),
    need.answered.map((one) => h("p", { class: "ra-small" }, `Asked whether it is “${one.thing}”: ${one.says}. ${one.note} `, button("Ask again", () => at.change("answer", { need: need.slug, thing: one.thing, says: "" }, "It is asked again."), { "aria-label": `Ask again: ${one.thing}, ${need.name}` }))),
    need.nearest.length ? h("p", { class: "ra-small" }, `Nearest in the archive, not cited yet: ${need.nearest.map((one) => one.title).join("; ")}.`) : null,
    h("ul", { class: "ra-evidence" }, need.evidence.map((one, place) => evidence(need, one, place, at))),
    h("details", { class: "ra-change" }, h("summary", {}, "Say more of it"),
      h("form", { submit: (event) => { event.preventDefault(); at.change("save", { needs: { [need.slug]: form.changed() } }, "Saved.", form); } },
        h("div", { class: "ra-grid ra-gap" }, plain.field.name, plain.field.figure, plain.field.prominence, h("div", { class: "ra-wide" }, plain.field.description)),
        h("div", { class: "ra-grid ra-gap" }, facts.fields),
        h("div", { class: "ra-two ra-gap" }, plain.field.do, plain.field.dont, plain.field.substitutes, plain.field.breakdown),
        h("div", { class: "ra-grid ra-gap" }, quantity.field.hero, quantity.field.wet_doubles, quantity.field.spare, h("div", { class: "ra-span2" }, quantity.field.why)),
        h("h5", { class: "ra-gap" }, "Colours read from pictures"), swatches.element,
        h("div", { class: "ra-row" }, h("button", { type: "submit" }, `Save ${need.name}`),
          button("Remove this need", () => at.change("remove", { kind: "need", name: need.slug }, `${need.name} was removed; the history keeps it.`), { "aria-label": `Remove the need ${need.name}` })))),
  );
  return { element, form };
}

function question(need, { thing, words }, at) {
  const note = h("input", { type: "text" });
  const say = (says) => at.change("answer", { need: need.slug, thing, says, note: note.value }, "Answered; the dossier keeps the answer.");
  return h("div", { class: "ra-question" }, h("p", {}, words),
    h("div", { class: "ra-row ra-add" }, labelled("Reason", note), at.words.answers.map((says) => button(says[0].toUpperCase() + says.slice(1), () => say(says), { "aria-label": `${says}: ${thing}, ${need.name}` }))));
}

function evidence(need, one, place, at) {
  const reference = at.references[one.reference];
  const fit = fieldSet(at.words.fit_aspects.map((aspect) => [aspect, aspect[0].toUpperCase() + aspect.slice(1), "choice", [["", "not said"], ...at.words.fit_words.map((word) => [word, word])]]));
  const note = fieldSet([["note", "What it tells", "words"]]);
  fit.fill(one.fit);
  note.fill(one);
  const said = Object.entries(one.fit).map(([aspect, word]) => `${aspect} ${word}`).join(", ");
  const judge = () => at.change("judge", {
    need: need.slug, evidence: place, note: note.control.note.value, fit: Object.fromEntries(Object.entries(fit.control).map(([aspect, control]) => [aspect, control.value])),
  }, "Saved.");
  return h(
    "li", {},
    reference.picture === null ? h("div", { class: "ra-none" }, reference.kind === "text" ? "text" : "no picture") : h("img", { src: at.shelf.url(at.pictures[reference.picture]), alt: reference.title }),
    h("div", {},
      h("p", { class: "ra-caption" }, h("b", {}, one.relation), ` ${reference.title}`),
      h("p", { class: "ra-small" }, [reference.date_shown, reference.witness, one.note].filter(Boolean).join(" · ")),
      said ? h("p", { class: "ra-small" }, `Fit: ${said}.`) : null,
      h("details", {}, h("summary", { "aria-label": `How it fits: ${reference.title}, ${need.name}` }, "How it fits"), h("div", { class: "ra-fit" }, note.fields, fit.fields), h("div", { class: "ra-row" }, button("Keep", judge, { "aria-label": `Keep how it fits: ${reference.title}, ${need.name}` }))),
      button("Take out", () => at.change("unlink", { need: need.slug, reference: one.reference }, "Taken out."), { "aria-label": `Take out ${reference.title} from ${need.name}` })),
  );
}

/** Swatches of a need: which picture, which part of it, what it is called. */
function swatchSet(at) {
  const pictures = Object.entries(at.references).filter(([, one]) => one.kind === "image").map(([id, one]) => [id, one.title]);
  const marked = (region) => (region ? `the part marked, ${Math.round(100 * region[2])} × ${Math.round(100 * region[3])} % of it` : "the whole picture");
  return rowSet("swatch", "Read a colour from a picture", () => ({ reference: pictures[0]?.[0] ?? "", region: null, name: "" }), (values) => {
    let { region } = values;
    const which = choice(pictures);
    const name = h("input", { type: "text" });
    const where = h("p", { class: "ra-hint" }, marked(region));
    const ground = h("div", {});
    [which.value, name.value] = [values.reference, values.name];
    which.addEventListener("change", () => { region = null; refill(where, marked(null)); refill(ground); });
    const mark = async () => {
      const marker = await at.marked(which.value, (part) => { region = part; refill(where, marked(part)); });
      if (marker) { refill(ground, marker.element); marker.region = region; marker.element.focus(); }
    };
    return {
      element: h("div", {}, h("div", { class: "ra-row ra-add" }, labelled("From", which), labelled("Called", name), button("Mark the part", mark), where), ground),
      read: () => ({ reference: which.value, region, name: name.value.trim() }),
    };
  });
}
