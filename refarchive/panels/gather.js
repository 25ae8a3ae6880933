// Gather: files in, what is said of them, details marked, and a list of what is still missing.

const GROUPS = [
  ["What it is", [["title", "Title or caption"], ["description", "What it shows", "long"], ["medium", "Medium"]]],
  ["Who made it, where and when", [["creator", "Maker"], ["place", "Place"], ["date", "Date, as written or in EDTF"]]],
  ["Where it comes from, and what may be done with it", [["source", "Source"], ["credit", "Credit line"], ["rights", "Rights"]]],
  ["How far it can be trusted", [["witness", "Kind of witness", "choice"]]],
];

function gatherPanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelf = pictureShelf();
  const largeShelf = pictureShelf();
  let sheetFile = null;
  let files = [];
  let open_ = null;

  // What comes in.
  const chosen = h("input", { type: "file", multiple: true });
  const drop = h("div", { class: "ra-drop" }, labelled("Files (several at once; or drop them here)", chosen), h("p", { class: "ra-hint" }));
  const place = h("input", { type: "text", placeholder: "/home/me/scans" });
  const sheet = h("input", { type: "file", accept: ".csv,text/csv" });
  const about = Object.fromEntries([["source", ""], ["creator", ""], ["date", ""], ["rights", ""]].map(([name]) => [name, h("input", { type: "text" })]));
  const witness = choice([["", "not said yet"]]);
  const go = button("Gather", () => gather(), { class: "ra-main" });
  const bar = h("progress", { hidden: true, max: "1", value: "0", "aria-label": "How far reading is" });
  const report = h("div", {});
  const added = h("ol", { class: "ra-results", "aria-label": "New in the archive" });

  // What is missing.
  const missing = h("ul", { class: "ra-list", "aria-label": "References with something missing" });
  const byName = h("input", { type: "text" });

  // One reference.
  const marker = regionMarker("The picture of the reference", () => {});
  const note = h("input", { type: "text" });
  const details = h("ul", { class: "ra-list", "aria-label": "Marked details" });
  const passages = h("div", { class: "ra-passages" });
  const form = fieldSet(GROUPS.flatMap(([, fields]) => fields));
  const inputs = form.control;
  const dateWords = h("p", { class: "ra-hint" });
  const effects = h("ul", { class: "ra-small" });
  const pictured = h(
    "div", {}, marker.element, h("p", { class: "ra-hint" }, HOW_TO_MARK),
    h("div", { class: "ra-row ra-mark" }, labelled("Note to the marked part", note), button("Keep the marked part", () => mark())),
    h("h5", { class: "ra-gap" }, "Marked so far"), details,
  );
  const one = h(
    "div", { class: "ra-sheet", hidden: true },
    h("h4", {}, "One reference"),
    h(
      "div", { class: "ra-two" },
      h("div", {}, pictured, passages),
      h(
        "form", { submit: (event) => { event.preventDefault(); save(); } },
        ...GROUPS.map(([title, fields]) => h("fieldset", {}, h("legend", {}, title), fields.map(([name]) => [form.field[name], name === "date" ? [dateWords, effects] : []]).flat(2))),
        h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main" }, "Save"), button("Close", () => { one.hidden = true; })),
      ),
    ),
  );

  panelRoot(
    el, "Gather references",
    h(
      "div", { class: "ra-sheet" },
      h("div", { class: "ra-grid" }, drop, labelled("Or a folder or file on this computer", place), labelled("Sheet of descriptions (CSV)", sheet)),
      h(
        "fieldset", {}, h("legend", {}, "What holds for all of them (may be left empty)"),
        h(
          "div", { class: "ra-grid" }, labelled("Where they come from", about.source), labelled("Maker", about.creator),
          labelled("Date", about.date), labelled("Rights", about.rights), labelled("Kind of witness", witness),
        ),
      ),
      h("div", { class: "ra-row" }, go, bar),
      told.status, told.work, told.alert, report,
    ),
    added,
    h(
      "div", { class: "ra-sheet" }, h("h4", {}, "Still missing"), missing,
      h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); open(byName.value); } }, labelled("Or open one by its file name", byName), h("button", { type: "submit" }, "Open")),
    ),
    one,
  );

  const listChosen = () => { refill(drop.lastChild, files.length ? `${files.length} chosen: ${files.slice(0, 3).map((one_) => one_.name).join(", ")}${files.length > 3 ? " …" : ""}` : ""); };
  chosen.addEventListener("change", () => { files = [...chosen.files]; listChosen(); });
  sheet.addEventListener("change", () => { sheetFile = sheet.files[0] ?? null; });
  drop.addEventListener("dragover", (event) => event.preventDefault());
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    files = [...event.dataTransfer.files];
    listChosen();
  });

  async function gather() {
    if (go.getAttribute("aria-disabled")) return;
    bar.hidden = false;
    const read = await during(told, [go], "Reading files", async () => {
      const uploads = [];
      for (const file of files) uploads.push(await upload(ask, file, (part) => { bar.value = part; told.say(`Reading ${file.name}`); }));
      const sheetPath = sheetFile ? await upload(ask, sheetFile) : "";
      const said = { ...Object.fromEntries(Object.entries(about).map(([name, input]) => [name, input.value])), witness: witness.value };
      return { uploads, place: place.value, sheet: sheetPath, said };
    });
    bar.hidden = true;
    const got = read && await atLength(told, ask, [go], "Gathering", "gather", read);
    if (!got) return;
    files = []; sheetFile = null; chosen.value = sheet.value = "";
    listChosen();
    showReport(got.answer);
    shelf.clear();
    refill(added, ...got.answer.references.map((hit) => gathered(hit, got.pictures)));
    listMissing(got.answer.missing);
    told.say(`The archive holds ${got.answer.whole} references.`);
  }

  function showReport({ added: fresh, unchanged, revised, duplicates, refused, notices: said }) {
    const part = (title, rows) => rows.length ? [h("h5", {}, title), h("ul", { class: "ra-list" }, rows.map((row) => h("li", {}, row)))] : [];
    refill(report,
      h("p", {}, `${fresh} added, ${unchanged} unchanged, ${revised} revised.`),
      ...part("The same picture was there already", duplicates.map((one_) => Object.values(one_).join(": "))),
      ...part("Not taken", refused.map((one_) => `${one_.source}: ${one_.problem}`)),
      ...part("To know", said),
    );
  }

  const gathered = (hit, pictures) => h(
    "li", {},
    h("div", { class: "ra-picture" }, hit.picture === null ? h("div", { class: "ra-text" }, hit.title) : h("img", { src: shelf.url(pictures[hit.picture]), alt: hit.title })),
    h("p", { class: "ra-caption" }, hit.title),
    h("p", { class: "ra-small" }, [hit.date_shown, hit.witness].join(" · ")),
    hit.missing.length ? h("p", { class: "ra-small" }, `Missing: ${hit.missing.join(", ")}.`) : null,
    h("div", { class: "ra-row" }, button("Say more of it", () => open(hit.reference), { "aria-label": `Say more of it: ${hit.title}` })),
  );

  function listMissing(rows) {
    refill(missing,
      ...(rows.length ? rows.map((row) => h("li", {}, `${row.title}: ${row.missing.join(", ")}. `, button("Fill in", () => open(row.reference), { "aria-label": `Fill in: ${row.title}` }))) : [h("li", {}, "No listed field is empty.")]),
    );
  }

  async function open(name) {
    const got = await during(told, [], "Opening", () => ask("open", { name }));
    if (!got) return;
    open_ = got.answer;
    form.fill(open_.said);
    refill(dateWords);
    refill(effects);
    largeShelf.clear();
    pictured.hidden = !got.pictures.length;
    marker.region = null;
    if (got.pictures.length) marker.image.src = largeShelf.url(got.pictures[0]);
    marker.image.alt = open_.said.title;
    refill(passages, ...open_.passages.map((words) => h("p", { class: "ra-caption" }, words)));
    listDetails(open_.details);
    one.hidden = false;
    told.say("");
    inputs.title.focus();
  }

  const listDetails = (rows) => refill(details,
    ...(rows.length ? rows.map((row) => h("li", { class: "ra-detail" }, crop(marker.image.src, row.region, row.note || "a marked part"), h("span", {}, row.note || "without a note"), button("Show", () => { marker.region = row.region; note.value = row.note; }, { "aria-label": `Show: ${row.note || "detail"}` }))) : [h("li", {}, "none")]),
  );

  inputs.date.addEventListener("input", () => refill(effects));
  understoodAsTyped(inputs.date, dateWords, (date) => ask("preview", { name: open_.reference, date }), ({ words, effects: changes }) => {
    refill(effects, ...changes.map((one) => h("li", {}, one)));
    return words;
  });

  async function save() {
    const got = await during(told, [], "Saving", () => ask("save", { name: open_.reference, said: form.changed(), was: open_.said }));
    if (!got) return;
    open_.said = got.answer.said;
    form.fill(open_.said);
    listMissing(got.answer.missing);
    told.say(got.answer.changed.length ? `Saved: ${got.answer.changed.join(", ")}.` : "Nothing was changed.");
  }

  async function mark() {
    const got = await during(told, [], "Saving", () => ask("mark", { name: open_.reference, region: marker.region, note: note.value }));
    if (!got) return;
    listDetails(got.answer.details);
    note.value = "";
    told.say("The marked part is kept.");
  }

  ask("start").then(({ answer }) => {
    witness.append(...answer.witnesses.map((words) => h("option", { value: words }, words)));
    inputs.witness.append(...answer.witnesses.map((words) => h("option", { value: words }, words)));
    listMissing(answer.missing);
    told.say(`The archive holds ${answer.references} references.`);
  }, told.problem);

  return () => {
    shelf.clear();
    largeShelf.clear();
    ask.end();
  };
}

export default { render: ({ model, el }) => gatherPanel(model, el) };
