// Editing: fields that know what stood in them, so that only what was changed is kept and nothing else is touched.

const lines = (text) => text.split("\n").map((line) => line.trim()).filter(Boolean);
const parted = (text) => lines(text).map((line) => { // "name: what", a line each
  const [name, ...rest] = line.split(":");
  return [name.trim(), rest.join(":").trim()];
});
const area = (attributes = {}) => h("textarea", { rows: "1", ...attributes });
const asIs = { read: (control) => control.value.trim(), fill: (control, value) => { control.value = value ?? ""; } };

/** Kinds of field: how one is made, read and filled, and what is sent of it (a name taken away is sent empty). */
const KINDS = {
  text: { make: () => h("input", { type: "text" }), ...asIs },
  words: { make: () => area(), ...asIs, read: (control) => control.value.replace(/\s+/g, " ").trim() },
  long: { make: () => area({ class: "ra-long" }), ...asIs },
  choice: { make: (options) => choice(options), ...asIs },
  list: {
    make: () => area({ class: "ra-long" }), read: (control) => lines(control.value),
    fill: (control, value) => { control.value = (value ?? []).join("\n"); },
  },
  pairs: {
    make: () => area({ class: "ra-long" }),
    read: (control) => Object.fromEntries(parted(control.value)),
    fill: (control, value) => { control.value = Object.entries(value ?? {}).filter(([, one]) => one).map((pair) => pair.join(": ")).join("\n"); },
    sent: (now, was) => ({ ...Object.fromEntries(Object.keys(was ?? {}).map((name) => [name, ""])), ...now }),
  },
  credits: { // a name may stand more than once, and without a word behind it
    make: () => area({ class: "ra-long" }),
    read: (control) => parted(control.value),
    fill: (control, value) => { control.value = (value ?? []).map((pair) => pair.filter(Boolean).join(": ")).join("\n"); },
  },
};

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

/** Fields of these [key, label, kind, options]: filled, read for what was changed, and given back what was typed. */
function fieldSet(spec) {
  const own = spec.map(([key, label, kind = "text", options = []]) => ({ key, label, kind: KINDS[kind], control: KINDS[kind].make(options) }));
  let was = {};
  const read = () => Object.fromEntries(own.map(({ key, kind, control }) => [key, kind.read(control)]));
  return {
    control: Object.fromEntries(own.map(({ key, control }) => [key, control])),
    field: Object.fromEntries(own.map(({ key, label, control }) => [key, labelled(label, control)])),
    get fields() { return Object.values(this.field); },
    fill(values) {
      for (const { key, kind, control } of own) kind.fill(control, values[key]);
      was = read();
    },
    changed() {
      const now = read();
      return Object.fromEntries(own.filter(({ key }) => !same(now[key], was[key])).map(({ key, kind }) => [key, kind.sent ? kind.sent(now[key], was[key]) : now[key]]));
    },
    restore(values) {
      for (const { key, kind, control } of own) if (key in values) kind.fill(control, values[key]);
    },
  };
}

/** Rows that are added and taken out; `row(values)` gives {element, read}. Works as a field set of one key. */
function rowSet(key, addWords, emptyRow, row) {
  const ground = h("div", { class: "ra-rows" });
  let rows = [];
  let was = [];
  const read = () => rows.map((one) => one.read());
  const put = (values) => {
    const one = row(values);
    const remove = button("Take out", () => { rows = rows.filter((other) => other !== one); line.remove(); self.onChange?.(); });
    const line = h("div", { class: "ra-rowline" }, one.element, remove);
    rows.push(one);
    ground.append(line);
  };
  const self = {
    onChange: null,
    read,
    element: h("div", {}, ground, h("div", { class: "ra-row" }, button(addWords, () => { put(emptyRow()); self.onChange?.(); }))),
    put: (values) => { rows = []; refill(ground); values.forEach(put); self.onChange?.(); },
    fill: (values) => { self.put(values[key] ?? []); was = read(); },
    changed: () => (same(read(), was) ? {} : { [key]: read() }),
    restore: (values) => { if (key in values) self.put(values[key]); },
  };
  return self;
}

/** Several field sets as one. */
function together(...sets) {
  return {
    fill: (values) => sets.forEach((one) => one.fill(values)),
    changed: () => Object.assign({}, ...sets.map((one) => one.changed())),
    restore: (values) => sets.forEach((one) => one.restore(values)),
  };
}

/** A set whose values stand one level down: {facts: {material: …}}. */
function within(name, set) {
  return {
    fill: (values) => set.fill(values[name] ?? {}),
    changed: () => { const now = set.changed(); return Object.keys(now).length ? { [name]: now } : {}; },
    restore: (values) => { if (name in values) set.restore(values[name]); },
  };
}

/** The colours a picture is meant to have: a strip to look at, and a row for each. */
function paletteSet() {
  const strip = h("div", { class: "ra-strip", role: "img", "aria-label": "The palette that is meant" });
  const sum = h("p", { class: "ra-hint" });
  const rows = rowSet("palette", "Add a colour", () => ({ hex: "#777777", share: 10, name: "" }), ({ hex, share, name }) => {
    const colour = h("input", { type: "color", value: /^#[0-9a-f]{6}$/i.test(hex) ? hex : "#777777" });
    const part = h("input", { type: "text", inputmode: "decimal" });
    const called = h("input", { type: "text" });
    [part.value, called.value] = [share, name];
    [colour, part, called].forEach((one) => one.addEventListener("input", () => draw()));
    return {
      element: h("div", { class: "ra-colours" }, labelled("Colour", colour), labelled("Share, %", part), labelled("Called", called)),
      read: () => ({ hex: colour.value, share: part.value.trim(), name: called.value.trim() }),
    };
  });
  const draw = () => {
    const all = rows.read();
    refill(strip, ...all.map(swatch));
    const whole = all.reduce((total, one) => total + (parseFloat(String(one.share).replace(",", ".")) || 0), 0);
    refill(sum, all.length ? `The shares add up to ${Math.round(10 * whole) / 10} %; they are to make 100.` : "No colours are set: the palette is not checked.");
    strip.hidden = !all.length;
  };
  rows.onChange = draw;
  return { ...rows, element: h("div", {}, strip, sum, rows.element) };
}
