// Site and light: sliders for day, time and the power of each light; sun, light and drawing follow.

function onsitePanel(model, el) {
  const ask = asker(model);
  const told = notices();
  const shelf = pictureShelf();
  const scene = choice([["", "choose a scene"]]);
  const sliders = h("div", { class: "ra-grid" });
  const drawing = h("img", { class: "ra-plan", alt: "The lighting plan" });
  const spoken = h("ul", { class: "ra-list" });
  const sun = h("ul", { class: "ra-list", "aria-label": "Sun and moon" });
  const light = h("ul", { class: "ra-list", "aria-label": "Light" });
  const cautions = h("div", {});
  const windowShelf = pictureShelf();
  const windows = h("div", {});
  const rest = h("div", { hidden: true },
    h("div", { class: "ra-sheet" }, h("h4", {}, "When, and how much"), sliders, h("p", { class: "ra-hint" }, "Nothing that is tried here is kept; the plan stays as it is.")),
    h("div", { class: "ra-sheet" }, h("div", { class: "ra-two" },
      h("div", {}, drawing, h("details", {}, h("summary", {}, "The drawing in words"), spoken)),
      h("div", {}, h("h4", {}, "Sun and moon"), sun, h("h4", { class: "ra-gap" }, "Light"), light))),
    h("div", { class: "ra-sheet" }, h("h4", {}, "When all of it holds"), h("div", { class: "ra-row" }, button("Look for windows", () => look_for())), windows),
    h("div", { class: "ra-sheet" }, h("h4", {}, "Cautions"), cautions));
  let begun = null;
  let inputs = null;

  panelRoot(el, "Site and light", h("div", { class: "ra-sheet" }, h("div", { class: "ra-row ra-add" }, labelled("Scene", scene)), told.status, told.work, told.alert), rest);
  scene.addEventListener("change", () => open());

  const clock = (minute) => `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;
  const power = (stops) => (stops < 0.05 ? "full" : `${stops.toFixed(1)} stops below full`);

  function slider(words, value, attributes, shown) {
    const input = h("input", { type: "range", ...attributes });
    const said = h("span", { class: "ra-value" });
    input.value = value;
    const say = () => { refill(said, shown(Number(input.value))); input.setAttribute("aria-valuetext", shown(Number(input.value))); };
    input.addEventListener("input", say);
    input.addEventListener("change", () => look());
    say();
    return { input, field: h("div", {}, labelled(words, input), said) };
  }

  async function open() {
    if (!scene.value) { rest.hidden = true; return; }
    const got = await during(told, [], "Opening", () => ask("open", { slug: scene.value }));
    if (!got) return;
    refill(windows);
    windowShelf.clear();
    begun = got.answer;
    const day = (offset) => { const one = new Date(`${begun.day}T12:00:00Z`); one.setUTCDate(one.getUTCDate() + offset); return one.toISOString().slice(0, 10); };
    const half = Math.floor(begun.days / 2);
    inputs = {
      day: slider("Day", 0, { min: String(-half), max: String(half), step: "1" }, day),
      minute: slider("Time", begun.minute, { min: "0", max: "1435", step: "5" }, clock),
      lights: begun.lights.map((one) => [one.number, slider(`Light ${one.number}: ${one.unit}`, one.stops, { min: "0", max: String(Math.ceil(one.most * 10) / 10), step: "0.1" }, power)]),
    };
    refill(sliders, inputs.day.field, inputs.minute.field, ...inputs.lights.map(([, one]) => one.field));
    look();
  }

  let asked = 0;
  async function look() {
    const own = ++asked;
    const given = {
      slug: scene.value, day: begun.day, offset: Number(inputs.day.input.value), minute: Number(inputs.minute.input.value),
      stops: Object.fromEntries(inputs.lights.map(([number, one]) => [String(number), Number(one.input.value)])),
    };
    const got = await during(told, [], "Working it out", () => ask("look", given));
    if (!got || own !== asked) return;
    const { answer, pictures } = got;
    const items = (list, words) => refill(list, ...words.map((one) => h("li", {}, one)));
    shelf.clear();
    drawing.src = shelf.url(pictures[0], "image/svg+xml");
    drawing.alt = answer.words[0] ?? "The lighting plan";
    items(spoken, answer.words);
    items(sun, answer.sun.length ? answer.sun : ["The plan names no place, so the sun is not worked out."]);
    items(light, [answer.camera, ...answer.contrast, ...answer.points]);
    refill(cautions, ...answer.cautions.map((one) => h("p", { class: "ra-small" }, one)));
    rest.hidden = false;
    told.say(`${answer.at}.`);
  }

  async function look_for() {
    const got = await atLength(told, ask, [], "Looking through the days", "windows", { slug: scene.value });
    if (!got) return;
    const { answer, pictures } = got;
    windowShelf.clear();
    refill(windows,
      h("p", { class: "ra-small ra-gap" }, `Must hold: ${answer.must_hold.join("; ")}.`),
      answer.best.length ? h("ul", { class: "ra-list", "aria-label": "Best windows" }, answer.best.map((one) => h("li", {},
        h("b", {}, `${one.date}, ${one.from} to ${one.until}`), `, ${Math.round(one.minutes)} minutes. ${one.words}`,
        h("details", {}, h("summary", { "aria-label": `Calls for ${one.date}` }, "The day worked backwards"), h("ul", { class: "ra-list" }, one.calls.map((call) => h("li", {}, `${call.local} ${call.what}`))))))) : h("p", {}, "On none of the days all of it holds at once."),
      h("img", { class: "ra-plan", src: windowShelf.url(pictures[0], "image/png"), alt: answer.alt }),
      ...answer.notices.map((one) => h("p", { class: "ra-small" }, one)),
    );
    told.say(answer.best.length ? "Windows were found." : "No window was found.");
  }

  ask("start").then(({ answer }) => {
    scene.append(...answer.scenes.map((one) => h("option", { value: one.slug }, one.title)));
    scene.value = model.get("scene");
    if (scene.value) open();
    else told.say(answer.scenes.length ? "" : "No scene has a rig yet.");
  }, told.problem);

  return () => { shelf.clear(); windowShelf.clear(); ask.end(); };
}

export default { render: ({ model, el }) => onsitePanel(model, el) };
