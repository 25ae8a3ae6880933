// What all panels share in the browser. No framework, and never innerHTML: every word that is shown is a text node.

/** Words as they are shown: controls, and marks that turn the line around them, are written out, as in [U+202E]. */
function visible(words) {
  const code = (mark) => `[U+${mark.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0")}]`;
  return String(words).replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, code);
}

/** An element with attributes and children; functions become listeners, null attributes are left out. */
function h(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name, value);
    else if (typeof value === "boolean") made.toggleAttribute(name, value);
    else if (value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...ready(children));
  return made;
}

/** Children as they are put into an element: nothing of what is empty, and of words what is visible. */
function ready(children) {
  const there = children.flat().filter((child) => child !== null && child !== undefined && child !== "");
  return there.map((child) => (typeof child === "string" ? visible(child) : child));
}

/** Other children in place of those that an element has, taken as `h` takes them; nothing but the element empties it. */
function refill(element, ...children) {
  element.replaceChildren(...ready(children));
}

/** Ask the kernel; resolves with {answer, pictures}, rejects with {sentence, step}. */
function asker(model) {
  const waiting = new Map();
  let last = 0;
  const heard = (content, buffers) => {
    const one = waiting.get(content.number);
    if (!one) return;
    if (content.progress) return one.progress?.(content.progress);
    waiting.delete(content.number);
    if (content.problem) one.no(content.problem);
    else one.yes({ answer: content.answer, pictures: buffers ?? [] });
  };
  model.on("msg:custom", heard);
  const ask = (verb, given = {}, { progress, buffers = [], started } = {}) =>
    new Promise((yes, no) => {
      const number = ++last;
      waiting.set(number, { yes, no, progress });
      started?.(() => model.send({ ask: "stop", number: 0, with: { number } }));
      model.send({ ask: verb, number, with: given }, undefined, buffers);
    });
  ask.end = () => model.off("msg:custom", heard);
  return ask;
}

/** Send a file to the kernel piece by piece; resolves with its name there. */
async function upload(ask, file, progress) {
  const piece = 1 << 20;
  let path = "";
  for (let at = 0; at < file.size; at += piece) {
    const part = await file.slice(at, at + piece).arrayBuffer();
    const { answer } = await ask("take", { name: file.name, at, size: file.size }, { buffers: [part] });
    path = answer.path;
    progress?.(Math.min(1, (at + piece) / file.size));
  }
  if (!path) throw { sentence: `${file.name} is empty.`, step: "Choose another file." };
  return path;
}

/** Object URLs that are taken back together, so that no picture stays in memory after it is gone from the screen. */
function pictureShelf() {
  const urls = [];
  return {
    url(bytes, type = "image/jpeg") {
      urls.push(URL.createObjectURL(new Blob([bytes], { type })));
      return urls.at(-1);
    },
    clear() {
      urls.splice(0).forEach((url) => URL.revokeObjectURL(url));
    },
  };
}

/** The line that says what is going on, and the one that says what went wrong; both are read out. */
function notices() {
  const status = h("p", { class: "ra-status", role: "status" });
  const alert = h("div", { class: "ra-alert", role: "alert" });
  const work = h("div", {}); // a line for each long work that goes on
  return {
    status,
    alert,
    work,
    say(words) {
      refill(alert);
      refill(status, words);
    },
    problem(error) {
      refill(status);
      const known = error && error.sentence;
      const sentence = known ? error.sentence : "Something went wrong on this page.";
      if (!known) console.error(error);
      refill(alert, h("p", {}, h("strong", {}, sentence), " ", (known && error.step) || "Try it again."));
    },
  };
}

let labels = 0;

/** A control with its name above it. */
function labelled(words, control, hint = null) {
  control.id ||= `ra-${++labels}`;
  if (hint) {
    hint.id ||= `ra-${++labels}`;
    control.setAttribute("aria-describedby", hint.id);
  }
  return h("div", { class: "ra-field" }, h("label", { for: control.id }, words), control, hint);
}

function choice(options, attributes = {}) {
  return h("select", attributes, options.map(([value, words]) => h("option", { value }, words)));
}

function button(words, act, attributes = {}) {
  return h("button", { type: "button", click: act, ...attributes }, words);
}

/** Say that work goes on while a promise is open, keep its buttons from being pressed twice, and show what went wrong. */
async function during(told, controls, words, work) {
  told.say(words);
  controls.forEach((control) => control.setAttribute("aria-disabled", "true"));
  try {
    return await work();
  } catch (error) {
    told.problem(error);
    return null;
  } finally {
    controls.forEach((control) => control.removeAttribute("aria-disabled"));
  }
}

/** Long work: as `during`, with a line that says how far it is and how long it takes, and a button that stops it. */
async function atLength(told, ask, controls, words, verb, given = {}) {
  const bar = h("progress", { max: "1", "aria-label": `How far: ${words}` });
  const far = h("span", { class: "ra-small" });
  const stop = button("Stop", () => {}, { hidden: true });
  const line = h("div", { class: "ra-row ra-work" }, stop, bar, far);
  told.work.append(line);
  try {
    return await during(told, controls, words, () => ask(verb, given, {
      started: (halt) => { stop.hidden = false; stop.onclick = () => { halt(); stop.setAttribute("aria-disabled", "true"); told.say("Stopping after this step"); }; },
      progress: ({ done, of, words: what, pace }) => {
        if (of > 1) { bar.max = of; bar.value = done; }
        refill(far, [pace, what].filter(Boolean).join(" · "));
      },
    }));
  } finally {
    line.remove();
  }
}

/** A colour of a palette as a part of a strip. */
function swatch({ hex, share, name = "" }) {
  const part = h("span", { class: "ra-swatch", title: [name, hex].filter(Boolean).join(" ") });
  part.style.background = /^#[0-9a-f]{6}$/i.test(hex) ? hex : "none";
  part.style.flexGrow = String(parseFloat(String(share).replace(",", ".")) || 0);
  return part;
}

/** Say beside a field what is understood of it as it is typed; an answer that comes after a newer question is dropped. */
function understoodAsTyped(field, words, question, said) {
  let asking = 0;
  field.addEventListener("input", async () => {
    const own = ++asking;
    try {
      const { answer } = await question(field.value);
      if (own === asking) refill(words, said(answer));
    } catch (problem) {
      if (own === asking) refill(words, `${problem.sentence} ${problem.step}`);
    }
  });
}

/** The root of a panel: its keys stay its own (in a notebook, single keys are commands), its heading names it. */
function panelRoot(el, title, ...children) {
  el.classList.add("ra-panel");
  el.addEventListener("keydown", (event) => event.stopPropagation());
  const heading = h("h3", {}, title);
  heading.id = `ra-${++labels}`;
  el.append(h("section", { "aria-labelledby": heading.id }, heading, ...children));
}

const HOW_TO_MARK = "Draw a box with the mouse. Or press an arrow key to begin one: arrows move it, with shift they change its size, Escape clears it.";

/** Lay an element over a part of the ground it stands on; a region as fractions from the top left. */
function placed(element, region) {
  const [left, top, width, height] = region.map((part) => `${100 * part}%`);
  Object.assign(element.style, { left, top, width, height });
  return element;
}

/** A part of a picture by itself; a region as fractions from the top left. */
function crop(src, [x, y, width, height], alt) {
  const image = h("img", { src, alt });
  const box = h("div", { class: "ra-crop" }, image);
  Object.assign(image.style, { width: `${100 / width}%`, left: `${(-100 * x) / width}%`, top: `${(-100 * y) / height}%` });
  image.addEventListener("load", () => { box.style.aspectRatio = String((width * image.naturalWidth) / (height * image.naturalHeight)); });
  return box;
}

/** A picture on which a region is marked with the mouse or with the keyboard; fractions from the top left. */
function regionMarker(alt, changed) {
  const image = h("img", { alt, draggable: "false" });
  const box = h("div", { class: "ra-box", hidden: true });
  const ground = h(
    "div",
    {
      class: "ra-marker", tabindex: "0", role: "group",
      "aria-label": `${alt}. ${HOW_TO_MARK}`,
    },
    image,
    box,
  );
  let region = null;
  const show = () => {
    box.hidden = !region;
    if (region) placed(box, region);
    changed?.(region);
  };
  const at = (event) => {
    const place = image.getBoundingClientRect();
    const within = (value) => Math.max(0, Math.min(1, value));
    return [within((event.clientX - place.left) / place.width), within((event.clientY - place.top) / place.height)];
  };
  ground.addEventListener("pointerdown", (event) => {
    const [startX, startY] = at(event);
    ground.setPointerCapture(event.pointerId);
    const move = (moved) => {
      const [x, y] = at(moved);
      const wide = Math.abs(x - startX), high = Math.abs(y - startY);
      region = wide > 0.005 && high > 0.005 ? [Math.min(x, startX), Math.min(y, startY), wide, high] : null;
      show();
    };
    ground.addEventListener("pointermove", move);
    ground.addEventListener("pointerup", () => ground.removeEventListener("pointermove", move), { once: true });
  });
  ground.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "Escape") region = null;
    else if (way) {
      const [x, y, width, height] = region ?? [0.35, 0.35, 0.3, 0.3];
      const [dx, dy] = way.map((part) => part * 0.02);
      region = event.shiftKey
        ? [x, y, Math.max(0.02, Math.min(1 - x, width + dx)), Math.max(0.02, Math.min(1 - y, height + dy))]
        : [Math.max(0, Math.min(1 - width, x + dx)), Math.max(0, Math.min(1 - height, y + dy)), width, height];
    } else return;
    event.preventDefault();
    show();
  });
  return {
    element: ground,
    image,
    get region() {
      return region;
    },
    set region(value) {
      region = value;
      show();
    },
  };
}
