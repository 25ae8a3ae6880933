// The wall: frames of a shoot, prints, what hangs where, sittings, how frames stand, and the sentence that decides.

const PARTS = [["frames", "Frames"], ["prints", "Work prints"], ["hanging", "The wall"], ["sitting", "A sitting"], ["standing", "How they stand"], ["deciding", "The decision"]];

function wallPanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelf = pictureShelf();
  const scene = choice([["", "choose a scene"]]);
  const story = h("p", { class: "ra-caption" });
  const ctx = {
    ask, told, frames: [], groups: [], looked: [], criteria: [], urls: new Map(), chosen: new Set(),
    slug: () => scene.value,
    quiet: (on) => { el.classList.toggle("ra-quiet", on); head.hidden = on; },
    name: (id) => ctx.frames.find((one) => one.id === id)?.name ?? id,
    open: (said) => open(said),
    changed: () => parts.forEach(([, part]) => part.chosen?.()),
  };
  const parts = PARTS.map(([name]) => [name, { frames: framesPart, prints: printsPart, hanging: hangingPart, sitting: sittingPart, standing: standingPart, deciding: decidingPart }[name](ctx)]);
  const nav = h("nav", { class: "ra-row ra-parts", "aria-label": "Parts of the wall", hidden: true }, PARTS.map(([name, words]) => button(words, () => show(name), { "data-part": name, "aria-pressed": "false" })));
  parts.forEach(([, part]) => { part.element.hidden = true; });
  const head = h("div", {}, h("div", { class: "ra-row ra-add" }, labelled("Scene", scene)), story, nav);
  panelRoot(el, "The wall", h("div", { class: "ra-sheet ra-top" }, head, told.status, told.work, told.alert), ...parts.map(([, part]) => part.element));
  scene.addEventListener("change", () => open());

  let current = "frames";
  function show(name) {
    current = name;
    nav.querySelectorAll("button").forEach((one) => one.setAttribute("aria-pressed", String(one.dataset.part === name)));
    parts.forEach(([own, part]) => { part.element.hidden = own !== name; });
    Object.fromEntries(parts)[name].shown?.();
  }

  async function open(said = "") {
    if (!scene.value) { nav.hidden = true; parts.forEach(([, part]) => { part.element.hidden = true; }); return; }
    const got = await during(told, [], "Opening", () => ask("open", { slug: scene.value }));
    if (!got) return;
    const { answer, pictures } = got;
    shelf.clear();
    ctx.urls = new Map(answer.frames.map((one, place) => [one.id, answer.places[place] === null ? "" : shelf.url(pictures[answer.places[place]])]));
    answer.finished.forEach((one) => { one.url = one.place === null ? "" : shelf.url(pictures[one.place]); });
    ctx.frames = answer.frames;
    ctx.groups = answer.groups;
    ctx.looked = answer.looked;
    ctx.chosen = new Set([...ctx.chosen].filter((id) => ctx.urls.has(id)));
    refill(story, answer.story);
    parts.forEach(([, part]) => part.fill?.(answer));
    nav.hidden = false;
    show(current);
    told.say(said || (answer.frames.length ? "" : "No frame of this scene was taken in yet."));
  }

  ask("start").then(({ answer }) => {
    ctx.criteria = answer.criteria;
    parts.forEach(([, part]) => part.start?.(answer));
    scene.append(...answer.scenes.map((one) => h("option", { value: one.slug }, one.title)));
    scene.value = model.get("scene");
    if (scene.value) open();
    else told.say(answer.scenes.length ? "" : "The archive has no scene yet.");
  }, told.problem);

  return () => { shelf.clear(); parts.forEach(([, part]) => part.end?.()); ask.end(); };
}

/** A frame as a button that is chosen and let go. */
function frameButton(ctx, one) {
  const image = ctx.urls.get(one.id) ? h("img", { src: ctx.urls.get(one.id), alt: "" }) : h("span", {}, "no picture");
  const made = h("button", { type: "button", class: "ra-frame", "aria-pressed": String(ctx.chosen.has(one.id)), "data-frame": one.id, click: () => {
    if (ctx.chosen.has(one.id)) ctx.chosen.delete(one.id); else ctx.chosen.add(one.id);
    made.setAttribute("aria-pressed", String(ctx.chosen.has(one.id)));
    ctx.changed();
  } }, h("span", { class: "ra-picture" }, image), h("span", {}, one.name));
  return made;
}

/** The frames in their groups; taking in; what differs between two. */
function framesPart(ctx) {
  const shelf = pictureShelf();
  const place = h("input", { type: "text", placeholder: "/media/card/first-light" });
  const files = h("input", { type: "file", multiple: true });
  const ground = h("div", {});
  const counted = h("p", { class: "ra-hint" });
  const differ = button("Show what differs between two", () => between());
  const difference = h("div", { class: "ra-sheet", hidden: true });
  const element = h("div", {},
    h("form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); takeIn(place.value); } }, h("h4", {}, "Take the shoot in"),
      h("div", { class: "ra-row ra-add" }, labelled("A folder on this computer", place), h("button", { type: "submit" }, "Take in"), labelled("Or files through the browser", files)),
      h("p", { class: "ra-hint" }, "JPEG, TIFF or raw with a preview. Files are copied; a raw file beside a developed picture of its name stays where it is.")),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Frames, as they were shot"), h("div", { class: "ra-row" }, button("Measure them against each other", () => measure()), differ, button("Choose none", () => { ctx.chosen.clear(); draw(); ctx.changed(); })), counted, ground,
      h("p", { class: "ra-small" }, "Groups are proposed from time and likeness. Sharpness is measured against the sharpest of the group; eyes and hands are for people to judge.")),
    difference);

  const draw = () => {
    const byId = new Map(ctx.frames.map((one) => [one.id, one]));
    const card = (id) => h("li", {}, frameButton(ctx, byId.get(id)), h("p", { class: "ra-small" }, byId.get(id).taken_words), ...byId.get(id).words.map((one) => h("p", { class: "ra-small" }, one)));
    refill(ground, ...ctx.groups.flatMap((group, number) => [h("h5", { class: "ra-gap" }, `${number + 1}. ${group.words}`), h("ul", { class: "ra-frames", "aria-label": `Group ${number + 1}` }, group.frames.map(card))]));
    self.chosen();
  };

  async function takeIn(folder, uploads = []) {
    const got = await atLength(ctx.told, ctx.ask, [], "Taking in", "take_in", { slug: ctx.slug(), place: folder, uploads });
    if (!got) return;
    const { added, unchanged, refused, beside } = got.answer;
    place.value = files.value = "";
    await ctx.open(`${added.length} added, ${unchanged} there already.${beside.length ? ` ${beside.length} raw files left beside their pictures.` : ""}${refused.length ? ` Refused: ${refused.map((one) => `${one.source}: ${one.problem} ${one.next_step}`).join(" ")}` : ""}`);
  }
  files.addEventListener("change", async () => {
    const names = [];
    for (const file of files.files) {
      const name = await during(ctx.told, [], `Reading ${file.name}`, () => upload(ctx.ask, file));
      if (name) names.push(name);
    }
    if (names.length) takeIn("", names);
  });

  async function measure() {
    const got = await atLength(ctx.told, ctx.ask, [], "Measuring", "measure", { slug: ctx.slug() });
    if (got) await ctx.open("Measured.");
  }

  async function between() {
    const [one, other] = [...ctx.chosen];
    if (ctx.chosen.size !== 2) return ctx.told.problem({ sentence: `${ctx.chosen.size} frames are chosen.`, step: "Choose two." });
    const got = await atLength(ctx.told, ctx.ask, [], "Laying one over the other", "between", { slug: ctx.slug(), one, other });
    if (!got) return;
    const { answer, pictures } = got;
    shelf.clear();
    const [first, second, map] = pictures.map((bytes) => shelf.url(bytes));
    const image = h("img", { src: first, alt: ctx.name(one) });
    const boxes = () => answer.regions.map((region) => placed(h("div", { class: "ra-box" }), region));
    let now = 0;
    const swap = button("Show the other", () => { now = (now + 1) % 2; image.src = now ? second : first; image.alt = ctx.name(now ? other : one); refill(said, image.alt); });
    const said = h("p", { class: "ra-caption" }, ctx.name(one));
    refill(difference, h("h4", {}, "What differs"), h("p", {}, answer.words), h("div", { class: "ra-two" },
      h("div", {}, h("div", { class: "ra-over" }, image, boxes()), said, swap),
      map ? h("div", {}, h("img", { class: "ra-plot", src: map, alt: `Where they differ: ${answer.words}` }), h("p", { class: "ra-small" }, "White where they differ most, black where they are alike.")) : null));
    difference.hidden = false;
    ctx.told.say("");
    difference.scrollIntoView({ block: "nearest" });
  }

  const self = { element, fill: () => { difference.hidden = true; draw(); }, chosen: () => { refill(counted, `${ctx.frames.length} frames in ${ctx.groups.length} groups; ${ctx.chosen.size} chosen.`); }, end: () => shelf.clear() };
  return self;
}

/** Work prints: size and resolution are told before anything is printed. */
function printsPart(ctx) {
  const shelf = pictureShelf();
  const many = choice([["1", "one to a sheet"], ["2", "two to a sheet"], ["4", "four to a sheet"]]);
  const paper = h("input", { type: "text", placeholder: "matt, 230 g" });
  const sizes = h("ul", { class: "ra-list", "aria-label": "Sizes" });
  const links = h("span", {});
  const sheets = h("ol", { class: "ra-pages", "aria-label": "Sheets" });
  const kept = h("div", {});
  const which = h("p", { class: "ra-hint" });
  const element = h("div", { class: "ra-sheet" }, h("h4", {}, "Work prints on A4"), which,
    h("div", { class: "ra-row ra-add" }, labelled("Pictures", many), labelled("Paper", paper), button("Tell sizes and resolution", () => sized()), button("Make the sheets (PDF)", () => make("prints")), button("Make an index of all frames (PDF)", () => make("index")), links),
    sizes, sheets, kept);
  const given = () => ({ slug: ctx.slug(), frames: [...ctx.chosen], count: Number(many.value) });
  async function sized() {
    const got = await during(ctx.told, [], "Reckoning", () => ctx.ask("sizes", given()));
    if (!got) return;
    refill(sizes, ...got.answer.sizes.map((one) => h("li", {}, one)));
    ctx.told.say("");
  }
  async function make(what) {
    const got = await atLength(ctx.told, ctx.ask, [], "Setting the sheets", what, what === "prints" ? { ...given(), paper: paper.value } : { slug: ctx.slug() });
    if (!got) return;
    const [pdf, ...pages] = got.pictures;
    shelf.clear();
    refill(links, h("a", { href: shelf.url(pdf, "application/pdf"), download: got.answer.name }, `Save ${got.answer.name}`));
    refill(sheets, ...pages.map((one, place) => h("li", {}, h("img", { src: shelf.url(one, "image/png"), alt: `Sheet ${place + 1}` }))));
    show(got.answer.prints);
    ctx.told.say(got.answer.words);
  }
  const show = (prints) => refill(kept, h("h5", { class: "ra-gap" }, "Printed so far"), prints.length ? h("ul", { class: "ra-list", "aria-label": "Printed so far" }, prints.map((one) => h("li", {}, one))) : h("p", { class: "ra-small" }, "Nothing yet."));
  const self = { element, fill: (answer) => { refill(links); refill(sheets); refill(sizes); show(answer.prints); self.chosen(); }, chosen: () => { refill(which, ctx.chosen.size ? `${ctx.chosen.size} frames are chosen: ${[...ctx.chosen].map(ctx.name).join(", ")}.` : "Choose frames in the part before; without any, all are printed."); }, end: () => shelf.clear() };
  return self;
}

/** A sitting: one pair after another, sides at random; a word, and a line why. */
function sittingPart(ctx) {
  const shelf = pictureShelf();
  const criterion = choice([]);
  const viewer = h("input", { type: "text", placeholder: "empty: the photographer" });
  const light = h("input", { type: "text", placeholder: "north window, overcast" });
  const which = h("p", { class: "ra-hint" });
  const before = h("form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); begin(); } }, h("h4", {}, "Begin a sitting"),
    h("div", { class: "ra-grid" }, labelled("Looking at", criterion), labelled("Who looks", viewer), labelled("By what light", light)), which,
    h("p", { class: "ra-small" }, "Pairs are chosen to settle what is still open; which side a picture is on is chance, and some pairs come again. Stop whenever you like: everything said is kept."),
    h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main" }, "Begin")));
  const left = h("img", { alt: "The picture on the left" });
  const right = h("img", { alt: "The picture on the right" });
  const pair = h("div", { class: "ra-pair", tabindex: "0", role: "group", "aria-label": "Two pictures. Left arrow: the left one. Right arrow: the right one. Down arrow: neither yet." }, h("div", {}, left), h("div", {}, right));
  const reason = h("input", { type: "text", maxlength: "500" });
  const asked = h("h4", {});
  const where = h("p", { class: "ra-hint" });
  const during_ = h("div", { hidden: true }, h("div", { class: "ra-sheet" }, asked, where), pair,
    h("div", { class: "ra-sheet" }, labelled("Why, in a line (before you choose)", reason), h("div", { class: "ra-row" }, button("The left one", () => say("left")), button("Neither yet", () => say("neither yet")), button("The right one", () => say("right")), button("Stop here", () => end()))));
  const words = h("textarea", {});
  const outsider = h("input", { type: "text" });
  const frame = choice([]);
  const heard = h("form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); hear(); } }, h("h4", {}, "Words of somebody from outside"),
    h("div", { class: "ra-two" }, labelled("What they said, unprompted", words), h("div", { class: "ra-grid" }, labelled("Of the frame", frame), labelled("Who", outsider))), h("div", { class: "ra-row" }, h("button", { type: "submit" }, "Keep their words")));
  const record = h("div", { class: "ra-sheet" });
  const element = h("div", {}, before, during_, heard, record);
  let sitting = "";
  let now = null;

  async function begin() {
    const got = await during(ctx.told, [], "Beginning", () => ctx.ask("sit", { slug: ctx.slug(), criterion: criterion.value, viewer: viewer.value, light: light.value, frames: ctx.chosen.size >= 2 ? [...ctx.chosen] : [] }));
    if (!got) return;
    sitting = got.answer.sitting;
    refill(asked, got.answer.asked);
    before.hidden = heard.hidden = record.hidden = true;
    during_.hidden = false;
    ctx.quiet(true);
    next(got);
    pair.focus();
  }
  function next({ answer, pictures }) {
    now = answer.pair;
    refill(where, answer.words);
    if (!now) return end(answer.words);
    shelf.clear();
    [left.src, right.src] = pictures.map((one) => shelf.url(one));
    reason.value = "";
    ctx.told.say("");
  }
  let busy = false;
  async function say(says) {
    if (busy || !now) return;
    busy = true;
    const got = await during(ctx.told, [], "Keeping it", () => ctx.ask("say", { sitting, left: now.left, right: now.right, says, reason: reason.value }));
    busy = false;
    if (got) next(got);
  }
  pair.addEventListener("keydown", (event) => {
    const says = { ArrowLeft: "left", ArrowRight: "right", ArrowDown: "neither yet" }[event.key];
    if (!says) return;
    event.preventDefault();
    if (!event.repeat) say(says); // a key held down says nothing of pairs that were not looked at
  });
  async function end(said = "") {
    ctx.quiet(false);
    during_.hidden = true;
    before.hidden = heard.hidden = record.hidden = false;
    now = null;
    shelf.clear();
    await ctx.open(said || "Stopped; what was said is kept.");
  }
  async function hear() {
    const got = await during(ctx.told, [], "Saving", () => ctx.ask("hear", { slug: ctx.slug(), frame: frame.value, words: words.value, viewer: outsider.value }));
    if (!got) return;
    words.value = outsider.value = "";
    await ctx.open("Their words are kept.");
  }
  const self = {
    element,
    start: (answer) => criterion.append(...answer.criteria.map((one) => h("option", { value: one.name }, one.words))),
    fill: (answer) => {
      refill(frame, ...ctx.frames.map((one) => h("option", { value: one.id }, one.name)));
      refill(record, h("h4", {}, "Sittings so far"), answer.sittings.length ? h("ul", { class: "ra-list", "aria-label": "Sittings so far" }, answer.sittings.map((one) => h("li", {}, one))) : h("p", { class: "ra-small" }, "None yet."),
        answer.heard.length ? h("h5", { class: "ra-gap" }, "From outside") : null, answer.heard.length ? h("ul", { class: "ra-list", "aria-label": "From outside" }, answer.heard.map((one) => h("li", {}, one))) : null);
      self.chosen();
    },
    chosen: () => { refill(which, ctx.chosen.size >= 2 ? `Among ${ctx.chosen.size} chosen frames.` : "Among all that hang on the wall, or all frames where nothing hangs; choose frames to narrow it."); },
    end: () => shelf.clear(),
  };
  return self;
}

/** How the frames stand by one criterion, drawn and in words. */
function standingPart(ctx) {
  const shelf = pictureShelf();
  const criterion = choice([]);
  const ground = h("div", {});
  const element = h("div", { class: "ra-sheet" }, h("h4", {}, "How they stand"), h("div", { class: "ra-row ra-add" }, labelled("By", criterion), button("Work it out", () => work())), ground);
  async function work() {
    const got = await atLength(ctx.told, ctx.ask, [], "Working it out", "standing", { slug: ctx.slug(), criterion: criterion.value });
    if (!got) return;
    const { answer, pictures } = got;
    shelf.clear();
    const items = (title, words) => h("ul", { class: "ra-list", "aria-label": title }, words.map((one) => h("li", {}, one)));
    const list = (title, words) => (words.length ? [h("h5", { class: "ra-gap" }, title), items(title, words)] : []);
    const folded = (title, words) => (words.length ? [h("details", { class: "ra-gap" }, h("summary", {}, `${title}: ${words.length}`), items(title, words))] : []);
    refill(ground,
      h("p", {}, answer.words),
      pictures.length ? h("img", { class: "ra-plot", src: shelf.url(pictures[0], "image/png"), alt: answer.alt }) : "",
      ...list("The same pair again", answer.consistency), ...list("Ahead", answer.ahead), ...folded("Not separated", answer.open), ...folded("Cannot be compared", answer.apart), ...list("Round in a circle", answer.cycles),
      ...list("Over the weeks", answer.drift), ...list("What others preferred", answer.others), ...folded("Why, in your words", answer.reasons),
      h("details", { class: "ra-gap" }, h("summary", {}, "How it was worked out"), h("p", { class: "ra-small" }, answer.how)),
    );
    ctx.told.say("");
  }
  return { element, start: (answer) => criterion.append(...answer.criteria.map((one) => h("option", { value: one.name }, one.name))), fill: () => { refill(ground); shelf.clear(); }, shown: () => { if (!ground.firstChild) work(); }, end: () => shelf.clear() };
}

/** The sentence that decides, and what was turned down and why. */
function decidingPart(ctx) {
  const frame = choice([]);
  const sentence = h("textarea", { class: "ra-long" });
  const others = h("div", { class: "ra-grid" });
  const record = h("div", {});
  const element = h("form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); keep(); } }, h("h4", {}, "The decision is yours"), record,
    h("div", { class: "ra-two" }, labelled("The frame", frame), labelled("The sentence that decides: why this one", sentence)),
    h("h5", { class: "ra-gap" }, "Turned down, and why"), h("p", { class: "ra-small" }, "A line each; one left empty was not turned down."), others,
    h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main" }, "Keep the decision")));
  let lines = new Map();
  const rows = () => {
    const was = new Map([...lines].map(([id, input]) => [id, input.value]));
    lines = new Map(ctx.frames.filter((one) => one.id !== frame.value && looked(one.id)).map((one) => [one.id, h("input", { type: "text", maxlength: "500" })]));
    lines.forEach((input, id) => { input.value = was.get(id) ?? ""; });
    refill(others, ...[...lines].map(([id, input]) => h("div", { class: "ra-down" }, ctx.urls.get(id) ? h("img", { src: ctx.urls.get(id), alt: "" }) : "", labelled(ctx.name(id), input))));
  };
  /** Whether a frame was chosen, or hung, or was looked at in a sitting; all are where none was. */
  const looked = (id) => (ctx.chosen.size ? ctx.chosen.has(id) : !ctx.looked.length || ctx.looked.includes(id));
  frame.addEventListener("change", rows);
  async function keep() {
    const turned = Object.fromEntries([...lines].filter(([, input]) => input.value.trim()).map(([id, input]) => [id, input.value.trim()]));
    const got = await during(ctx.told, [], "Saving", () => ctx.ask("decide", { slug: ctx.slug(), frame: frame.value, sentence: sentence.value, turned_down: turned }));
    if (!got) return;
    sentence.value = "";
    lines.forEach((input) => { input.value = ""; });
    await ctx.open("Kept, with what was turned down.");
  }
  return {
    element,
    chosen: rows,
    fill: (answer) => {
      const was = frame.value;
      refill(frame, h("option", { value: "" }, "choose a frame"), ...ctx.frames.map((one) => h("option", { value: one.id }, one.name)));
      frame.value = ctx.urls.has(was) ? was : "";
      rows();
      refill(record, ...answer.decisions.map((one) => h("div", { class: "ra-gap" }, h("p", { class: "ra-caption" }, one.words), one.turned_down.length ? h("p", { class: "ra-small" }, "Turned down:") : "", h("ul", { class: "ra-list", "aria-label": "Turned down" }, one.turned_down.map((line) => h("li", {}, line))))));
    },
  };
}

export default { render: ({ model, el }) => wallPanel(model, el) };
