// What hangs on the wall, at its true size against the others, on a neutral ground; moved with the mouse or the keyboard.

const STEP_MM = 10;
const AROUND_MM = 150; // of wall, around what hangs, when it is looked at closer

function hangingPart(ctx) {
  const wall = h("input", { type: "text", value: "studio wall" });
  const width = h("input", { type: "text", inputmode: "decimal", value: "4000" });
  const height = h("input", { type: "text", inputmode: "decimal", value: "2400" });
  const light = h("input", { type: "text" });
  const note = h("input", { type: "text" });
  const photograph = h("input", { type: "file", accept: "image/*" });
  const earlier = choice([]);
  const ground = h("div", { class: "ra-wall", role: "group", "aria-label": "The wall" });
  const said = h("p", { class: "ra-hint", "aria-live": "polite" });
  const adding = choice([]);
  const size = choice([]);
  const problems = h("div", {});
  const links = h("span", {});
  const shelf = pictureShelf();
  const photo = h("div", {});
  let hung = []; // {frame, x_mm, y_mm, width_mm, height_mm, finished, print}
  let known = [];
  let finished = [];
  const closer = button("Closer", () => { near = !near; closer.setAttribute("aria-pressed", String(near)); draw(); }, { "aria-pressed": "false" });
  let near = false;
  let unsaved = ""; // the scene whose wall was changed and not kept
  const element = h("div", {},
    h("div", { class: "ra-sheet" }, h("h4", {}, "What hangs where"),
      h("div", { class: "ra-row ra-add" }, labelled("Of the day", earlier), labelled("Hang", adding), labelled("As", size), button("Hang it", () => hang()), button("Side by side at eye level", () => inARow()), closer),
      h("p", { class: "ra-hint" }, "Move a picture with the mouse, or with the arrow keys when it is focused: 10 mm, with shift 100 mm. Delete takes it down.")),
    ground,
    h("form", { class: "ra-sheet", submit: (event) => { event.preventDefault(); keep(); } }, said, problems,
      h("div", { class: "ra-grid" }, labelled("Wall", wall), labelled("Width, mm", width), labelled("Height, mm", height), labelled("By what light", light), labelled("Note", note), labelled("A photograph of the wall", photograph)),
      h("div", { class: "ra-row" }, h("button", { type: "submit", class: "ra-main" }, "Keep this arrangement"), button("Make the wall page (PDF)", () => paper()), links), photo));

  const number = (input) => parseFloat(input.value.replace(",", ".")) || 0;
  /** What is shown, in millimetres: the whole wall, or what hangs on it with some wall around. */
  const shownPart = () => {
    const whole = [0, 0, number(width), number(height)];
    if (!near || !hung.length) return whole;
    const [left, top] = [Math.min(...hung.map((one) => one.x_mm)) - AROUND_MM, Math.min(...hung.map((one) => one.y_mm)) - AROUND_MM];
    const [right, bottom] = [Math.max(...hung.map((one) => one.x_mm + one.width_mm)) + AROUND_MM, Math.max(...hung.map((one) => one.y_mm + one.height_mm)) + AROUND_MM];
    return [left, top, right - left, bottom - top];
  };
  const draw = () => {
    const [left, top, w, hgt] = shownPart();
    ground.style.aspectRatio = w > 0 && hgt > 0 ? `${w} / ${hgt}` : "5 / 3";
    ground.style.maxWidth = w > 0 && hgt > 0 ? `calc(72vh * ${w / hgt})` : "100%";
    refill(ground, ...hung.map((one) => {
      const url = one.finished ? finished.find((f) => f.id === one.frame)?.url : ctx.urls.get(one.frame);
      const made = h("button", { type: "button", class: "ra-hung" }, url ? h("img", { src: url, alt: "", draggable: "false" }) : nameOf(one));
      const put = () => {
        made.setAttribute("aria-label", `${nameOf(one)}, ${Math.round(one.width_mm)} × ${Math.round(one.height_mm)} mm, ${Math.round(one.x_mm)} from the left, ${Math.round(one.y_mm)} from the top`);
        placed(made, [(one.x_mm - left) / w, (one.y_mm - top) / hgt, one.width_mm / w, one.height_mm / hgt]);
      };
      const move = (dx, dy) => { one.x_mm = Math.round(one.x_mm + dx); one.y_mm = Math.round(one.y_mm + dy); unsaved = ctx.slug(); put(); told(one); };
      made.addEventListener("keydown", (event) => {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
        if (way) { event.preventDefault(); move(...way.map((part) => part * STEP_MM * (event.shiftKey ? 10 : 1))); }
        if (event.key === "Delete") { hung = hung.filter((other) => other !== one); unsaved = ctx.slug(); draw(); refill(said, `${nameOf(one)} is taken down.`); }
      });
      made.addEventListener("pointerdown", (event) => {
        made.setPointerCapture(event.pointerId);
        let [x, y] = [event.clientX, event.clientY];
        const drag = (moved) => { const box = ground.getBoundingClientRect(); move(((moved.clientX - x) * w) / box.width, ((moved.clientY - y) * hgt) / box.height); [x, y] = [moved.clientX, moved.clientY]; };
        made.addEventListener("pointermove", drag);
        made.addEventListener("lostpointercapture", () => made.removeEventListener("pointermove", drag), { once: true }); // let go, or cancelled
      });
      made.addEventListener("focus", () => told(one));
      put();
      return made;
    }));
  };
  const nameOf = (one) => (one.finished ? finished.find((f) => f.id === one.frame)?.title ?? one.frame : ctx.name(one.frame));
  const told = (one) => refill(said, `${nameOf(one)}: ${Math.round(one.width_mm)} × ${Math.round(one.height_mm)} mm, ${Math.round(one.x_mm)} mm from the left, ${Math.round(one.y_mm)} mm from the top. Not kept yet.`);

  function hang() {
    const [kind, id] = adding.value.split("|");
    if (!id) return;
    const [w, hgt] = sizesOf(kind, id)[size.selectedIndex] ?? [277, 185];
    const right = Math.max(0, ...hung.map((one) => one.x_mm + one.width_mm));
    hung.push({ frame: id, x_mm: right + 100, y_mm: Math.max(0, number(height) - 1550 - hgt / 2), width_mm: w, height_mm: hgt, finished: kind === "finished", print: "" });
    unsaved = ctx.slug();
    draw();
    told(hung.at(-1));
  }
  const sizesOf = (kind, id) => (kind === "finished" ? finished.find((one) => one.id === id)?.sizes : ctx.frames.find((one) => one.id === id)?.sizes) ?? [];
  const sizes = () => { const [kind, id] = adding.value.split("|"); refill(size, ...sizesOf(kind, id).map(([w, hgt, words], place) => h("option", { value: place }, `${words}, ${Math.round(w)} × ${Math.round(hgt)} mm`))); };
  adding.addEventListener("change", sizes);

  function inARow() {
    const gap = 100;
    const whole = hung.reduce((sum, one) => sum + one.width_mm, 0) + gap * Math.max(0, hung.length - 1);
    let x = (number(width) - whole) / 2;
    for (const one of hung) { one.x_mm = Math.round(x); one.y_mm = Math.round(number(height) - 1550 - one.height_mm / 2); x += one.width_mm + gap; }
    unsaved = ctx.slug();
    draw();
    refill(said, "Centred at 1.55 m above the floor (common practice, no source). Not kept yet.");
  }

  async function keep() {
    let upload_ = "";
    if (photograph.files[0]) upload_ = await during(ctx.told, [], "Reading the photograph", () => upload(ctx.ask, photograph.files[0]));
    if (upload_ === null) return;
    const got = await during(ctx.told, [], "Saving", () => ctx.ask("hang", { slug: ctx.slug(), wall: wall.value, width_mm: number(width), height_mm: number(height), light: light.value, note: note.value, hung, photograph: upload_ }));
    if (!got) return;
    note.value = photograph.value = unsaved = "";
    await ctx.open("Kept, beside those before.");
  }
  async function paper() {
    const got = await atLength(ctx.told, ctx.ask, [], "Setting the page", "wall_page", { slug: ctx.slug(), which: Number(earlier.value) || 0 });
    if (!got) return;
    shelf.clear();
    refill(links, h("a", { href: shelf.url(got.pictures[0], "application/pdf"), download: got.answer.name }, `Save ${got.answer.name}`));
    ctx.told.say(got.answer.words);
  }
  async function load() {
    unsaved = "";
    const one = known.find((each) => each.number === Number(earlier.value));
    hung = (one?.hung ?? []).map((each) => ({ ...each }));
    if (one) { wall.value = one.wall; width.value = one.width_mm; height.value = one.height_mm; light.value = one.light; }
    refill(photo);
    refill(problems, ...(one?.problems ?? []).map((words) => h("p", {}, words)));
    refill(said, one ? `${one.words}` : "Nothing hangs yet.");
    draw();
    if (one?.photographed) {
      const got = await during(ctx.told, [], "Fetching the photograph", () => ctx.ask("photograph", { slug: ctx.slug(), which: one.number }));
      if (got) refill(photo, h("img", { class: "ra-plot", src: shelf.url(got.pictures[0]), alt: `The wall as it was photographed: ${one.words}` }));
    }
  }
  earlier.addEventListener("change", () => load());
  [width, height].forEach((one) => one.addEventListener("input", draw));

  return {
    element,
    fill: (answer) => {
      known = answer.arrangements;
      finished = answer.finished;
      const was = earlier.value;
      refill(earlier, ...known.map((one) => h("option", { value: one.number }, one.words)).reverse(), known.length ? "" : h("option", { value: "0" }, "nothing kept yet"));
      refill(adding, ...ctx.frames.map((one) => h("option", { value: `frame|${one.id}` }, one.name)), ...finished.map((one) => h("option", { value: `finished|${one.id}` }, `finished: ${one.title}`)));
      sizes();
      refill(links);
      if (unsaved !== ctx.slug()) return load();
      earlier.value = was; // what was moved and not kept stays as it is while other parts are worked on
      draw();
    },
    end: () => shelf.clear(),
  };
}
