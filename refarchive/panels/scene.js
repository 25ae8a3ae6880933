// Scene: what is to be told, what it needs and what that rests on, what it costs, and the dossier as it will print.

const HEAD = [["title", "Title"], ["series", "Series"], ["date", "Date"], ["place", "Place"], ["event", "What happened"]];
const AIMS = [
  ["light_from", "Light from"], ["key", "Key (median L*)"], ["key_tolerance", "give or take"], ["contrast", "Contrast (L*)"],
  ["contrast_tolerance", "give or take"], ["warmth_k", "Warmth (K)"], ["horizon", "Horizon (0 top – 1 bottom)"],
];
const MONEY = ["deposit", "estimate", "actual"];

function scenePanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelf = pictureShelf();
  const pageShelf = pictureShelf();
  const paperShelf = pictureShelf();
  const figureShelf = pictureShelf();
  let words = { departments: [], states: [] };
  let shown = null;

  const which = choice([["", "choose a scene"]]);
  const fresh = h("input", { type: "text" });
  const refresh = button("Refresh", () => open(which.value), { hidden: true });

  const head = Object.fromEntries(HEAD.map(([name]) => [name, h("input", { type: "text" })]));
  const story = h("textarea", {});
  const statements = h("textarea", {});
  const misreadings = h("textarea", {});
  const intended = h("textarea", {});
  const aims = Object.fromEntries(AIMS.map(([name]) => [name, h("input", { type: "text" })]));
  const figures = h("ul", { class: "ra-list", "aria-label": "Figures" });
  const palette = h("div", { class: "ra-strip" });
  const needs = h("div", {});
  const newName = h("input", { type: "text" });
  const newDepartment = choice([]);
  const newWords = h("input", { type: "text" });
  const money = h("div", {});
  const drawing = h("div", {});
  const department = choice([["", "the whole scene"]]);
  const look = button("Show the pages", () => pages());
  const print_ = button("Make PDF and HTML", () => paper());
  const stop = button("Stop", () => {}, { hidden: true });
  const links = h("span", {});
  const sheets = h("ol", { class: "ra-pages", "aria-label": "Pages of the dossier" });

  const rest = h(
    "div", { hidden: true },
    h(
      "form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); saveHead(); } },
      h("h4", {}, "What is to be told"),
      h("div", { class: "ra-grid" }, HEAD.map(([name, label]) => labelled(label, head[name]))),
      h("div", { class: "ra-two ra-gap" },
        labelled("Story", story), labelled("How it is to look", intended),
        labelled("What the picture is to say, a line each", statements), labelled("What it must not be taken for, a line each", misreadings)),
      palette, h("h5", { class: "ra-gap" }, "Figures"), figures,
      h("div", { class: "ra-grid ra-gap" }, AIMS.map(([name, label]) => labelled(label, aims[name]))),
      h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main" }, "Save")),
    ),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Needs, and what they rest on"), needs,
      h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); add(); } },
        labelled("A further need", newName), labelled("Department", newDepartment), labelled("In words", newWords), h("button", { type: "submit" }, "Add"))),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Witnesses against time"), h("div", { class: "ra-row" }, button("Draw", () => draw())), drawing),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Finding, making, hiring: state and cost"), money),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Dossier"),
      h("div", { class: "ra-row ra-add" }, labelled("For", department), look, print_, stop, links), sheets),
  );

  panelRoot(
    el, "A scene and its dossier",
    h(
      "div", { class: "ra-sheet" },
      h("div", { class: "ra-row ra-add" }, labelled("Scene", which), refresh,
        h("form", { class: "ra-row ra-add", submit: (event) => { event.preventDefault(); begin(); } }, labelled("Or begin a new one, by its title", fresh), h("button", { type: "submit" }, "Begin"))),
      told.status, told.alert,
    ),
    rest,
  );
  which.addEventListener("change", () => open(which.value));

  const listed = (scenes) => which.replaceChildren(h("option", { value: "" }, "choose a scene"), ...scenes.map((one) => h("option", { value: one.slug }, one.title)));
  const rows = (area) => area.value.split("\n").map((line) => line.trim()).filter(Boolean);

  async function begin() {
    const got = await during(told, [], "Saving", () => ask("begin", { title: fresh.value }));
    if (!got) return;
    fresh.value = "";
    listed(got.answer.scenes);
    which.value = got.answer.slug;
    open(got.answer.slug);
  }

  async function open(slug) {
    if (!slug) { rest.hidden = refresh.hidden = true; return; }
    const got = await during(told, [], "Opening", () => ask("open", { slug }));
    if (got) show(got, "");
  }

  /** Ask for a change and show the scene as it is then; what went wrong leaves what is on the screen. */
  async function change(verb, given, said) {
    const got = await during(told, [], "Saving", () => ask(verb, { slug: shown.scene.slug, ...given }));
    if (got) show(got, said);
    return Boolean(got);
  }

  function show({ answer, pictures }, said) {
    shown = answer;
    const { scene } = shown;
    for (const [name] of HEAD) head[name].value = scene[name];
    story.value = scene.story;
    statements.value = scene.statements.join("\n");
    misreadings.value = scene.misreadings.join("\n");
    intended.value = scene.intent.words;
    for (const [name] of AIMS) aims[name].value = scene.intent[name] ?? "";
    palette.replaceChildren(...scene.palette.map((one) => {
      const part = h("span", { class: "ra-swatch", title: `${one.name} ${one.hex}, ${Math.round(100 * one.share)} %` });
      part.style.background = /^#[0-9a-f]{6}$/i.test(one.hex) ? one.hex : "none";
      part.style.flexGrow = String(one.share);
      return part;
    }));
    figures.replaceChildren(...(scene.figures.length ? scene.figures.map((one) => h("li", {}, h("b", {}, one.name), one.action ? `: ${one.action}` : "")) : [h("li", {}, "none yet; they stand in the plan")]));
    palette.hidden = !scene.palette.length;
    shelf.clear();
    showNeeds(pictures);
    showMoney();
    rest.hidden = refresh.hidden = false;
    told.say(`${said} Revision ${scene.revision}.`.trim());
  }

  function saveHead() {
    const scene = Object.fromEntries(HEAD.map(([name]) => [name, head[name].value.trim()]));
    Object.assign(scene, { story: story.value.trim(), statements: rows(statements), misreadings: rows(misreadings) });
    const intent = { words: intended.value.trim(), ...Object.fromEntries(AIMS.map(([name]) => [name, aims[name].value.trim()])) };
    change("save", { revision: shown.scene.revision, scene, intent }, "Saved.");
  }

  function showNeeds(pictures) {
    const groups = words.departments.map((name) => [name, shown.needs.filter((need) => need.department === name)]).filter(([, those]) => those.length);
    needs.replaceChildren(...(groups.length ? groups.flatMap(([name, those]) => [h("h5", {}, name), ...those.map((need) => oneNeed(need, pictures))]) : [h("p", {}, "The scene has no need yet.")]));
  }

  const oneNeed = (need, pictures) => h(
    "details", { class: "ra-need" },
    h("summary", {}, h("b", {}, need.name), `: ${need.gap ? "nothing supports it" : `${need.witnesses} independent ${need.witnesses === 1 ? "witness" : "witnesses"}`}${need.questions.length ? `, ${need.questions.length} open ${need.questions.length === 1 ? "question" : "questions"}` : ""}`),
    need.description ? h("p", { class: "ra-caption" }, need.description) : null,
    h("p", { class: "ra-small" }, need.change),
    need.questions.length ? h("ul", { class: "ra-list" }, need.questions.map((one) => h("li", {}, one))) : null,
    h("ul", { class: "ra-evidence" }, need.evidence.map((one) => h(
      "li", {},
      one.picture === null || one.picture === undefined ? h("div", { class: "ra-none" }, "text") : h("img", { src: shelf.url(pictures[one.picture]), alt: one.title }),
      h("div", {}, h("p", { class: "ra-caption" }, h("b", {}, one.relation), ` ${one.title}`), h("p", { class: "ra-small" }, [one.date, one.witness, one.note].filter(Boolean).join(" · ")),
        button("Take out", () => change("unlink", { need: need.slug, reference: one.reference }, "Taken out."), { "aria-label": `Take out ${one.title} from ${need.name}` })),
    ))),
    h("div", { class: "ra-row" }, button("Remove this need", () => change("remove", { revision: shown.scene.revision, need: need.slug }, `${need.name} was removed; the history keeps it.`), { "aria-label": `Remove the need ${need.name}` })),
  );

  async function add() {
    const given = { revision: shown.scene.revision, name: newName.value, department: newDepartment.value, description: newWords.value };
    if (await change("add", given, "Added.")) newName.value = newWords.value = "";
  }

  function showMoney() {
    const edited = new Map();
    const cell = (need, name, input) => {
      input.setAttribute("aria-label", `${name}: ${need.name}`);
      input.value = need.sourcing[name] ?? "";
      input.addEventListener("change", () => {
        edited.set(need.slug, { ...(edited.get(need.slug) ?? {}), [name]: input.value });
        told.say("Not saved yet.");
      });
      return h("td", {}, input);
    };
    const sum = (name) => shown.needs.reduce((whole, need) => whole + (need.sourcing[name] ?? 0), 0);
    const named = ["Need", "Pieces", "State", "Supplier", "Deposit", "Estimate", "Actual", "Due", "Owner"];
    money.replaceChildren(
      h("div", { class: "ra-scroll", tabindex: "0", role: "group", "aria-label": "State and cost of each need" },
        h("table", { class: "ra-table ra-money" },
          h("thead", {}, h("tr", {}, named.map((one) => h("th", { scope: "col" }, one)))),
          h("tbody", {}, shown.needs.map((need) => h(
            "tr", {}, h("th", { scope: "row" }, need.name), h("td", { class: "ra-number" }, String(need.pieces)),
            cell(need, "state", choice(words.states.map((one) => [one, one]))), cell(need, "supplier", h("input", { type: "text" })),
            MONEY.map((name) => cell(need, name, h("input", { type: "text", inputmode: "decimal" }))),
            cell(need, "due", h("input", { type: "text", placeholder: "2026-12-01" })), cell(need, "owner", h("input", { type: "text" })),
          ))),
          h("tfoot", {}, h("tr", {}, h("th", { scope: "row" }, `In all ${shown.scene.currency}`), h("td", { class: "ra-number" }, String(shown.needs.reduce((whole, need) => whole + need.pieces, 0))), h("td"), h("td"), MONEY.map((name) => h("td", { class: "ra-number" }, sum(name).toFixed(2))), h("td"), h("td"))),
        )),
      h("div", { class: "ra-row" }, button("Save states and costs", () => {
        const given = Object.fromEntries([...edited].map(([slug, sourcing]) => [slug, { sourcing }]));
        change("save", { revision: shown.scene.revision, needs: given }, "Saved.");
      })),
    );
  }

  async function draw() {
    const got = await during(told, [], "Drawing", () => ask("figure", { slug: shown.scene.slug }));
    if (!got) return;
    figureShelf.clear();
    const said = ["Needs against time, one mark for each independent witness, hollow where it speaks against", "References against time, each over the span it may be from"];
    drawing.replaceChildren(...said.map((alt, place) => h("img", { class: "ra-drawn", src: figureShelf.url(got.pictures[place], "image/png"), alt })));
    told.say("");
  }

  async function set(given, said) {
    stop.hidden = false;
    const got = await during(told, [look, print_], "Setting the pages", () => ask("dossier", { slug: shown.scene.slug, department: department.value, ...given }, {
      started: (halt) => { stop.onclick = () => { halt(); told.say("Stopping after this step"); }; },
      progress: ({ done, of, words: what }) => told.say(`${what}, ${done} of ${of}`),
    }));
    stop.hidden = true;
    if (got) told.say(said(got.answer));
    return got;
  }

  async function pages() {
    const got = await set({}, ({ pages: count }) => `${count} pages.`);
    if (!got) return;
    pageShelf.clear();
    sheets.replaceChildren(...got.pictures.map((page, place) => h("li", {}, h("img", { src: pageShelf.url(page, "image/png"), alt: `Page ${place + 1} of ${got.answer.pages}` }))));
  }

  async function paper() {
    const got = await set({ paper: true }, ({ pages: count }) => `Made, ${count} pages.`);
    if (!got) return;
    paperShelf.clear();
    links.replaceChildren(...got.answer.names.flatMap((name, place) => [h("a", { href: paperShelf.url(got.pictures[place], name.endsWith(".pdf") ? "application/pdf" : "text/html"), download: name }, `Save ${name}`), " "]));
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
    for (const one of [shelf, pageShelf, paperShelf, figureShelf]) one.clear();
    ask.end();
  };
}

export default { render: ({ model, el }) => scenePanel(model, el) };
