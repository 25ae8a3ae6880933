"""A panel's script in a blank page, with the real panel behind it: for tests, and for the pictures of the README."""

from __future__ import annotations

import base64
import json
from typing import Any

from playwright.sync_api import Page

from refarchive.panels.base import Panel

CHROMIUM = "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
OWN = {"layout", "tabbable", "tooltip", "comm", "keys"}  # traits that are the widget's, not the panel's

# Stands in for the notebook's model: what is sent goes to Python by a binding, which returns what the panel answered.
MODEL = """async ([source, style, state]) => {
  const bytes = (text) => Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
  const text = (buffer) => btoa(Array.from(new Uint8Array(buffer), (one) => String.fromCharCode(one)).join(''));
  const heard = {};
  const model = {
    get: (name) => state[name],
    set: (name, value) => { state[name] = value; },
    save_changes: () => window.changed(state),
    on: (name, act) => (heard[name] ??= new Set()).add(act),
    off: (name, act) => heard[name]?.delete(act),
    send: async (content, _, buffers = []) => {
      for (const [answer, pictures] of await window.toKernel(content, buffers.map(text)))
        heard['msg:custom']?.forEach((act) => act(answer, pictures.map((one) => new DataView(bytes(one).buffer))));
    },
  };
  window.model = model;
  const sheet = document.createElement('style');
  sheet.textContent = style;
  document.head.replaceChildren(sheet);
  const el = document.createElement('div');
  document.body.replaceChildren(el);
  const widget = await import(URL.createObjectURL(new Blob([source], { type: 'text/javascript' })));
  window.end = await widget.default.render({ model, el });
}"""


def put_up(page: Page, panel: Panel) -> None:
    """Put a panel up on a page; its long work is waited for, so that every question is answered when it returns."""
    said: list[tuple[dict[str, Any], list[str]]] = []
    panel.send = lambda content, buffers=None: said.append(  # type: ignore[method-assign]
        (json.loads(json.dumps(content)), [base64.b64encode(one).decode() for one in buffers or []])
    )

    def to_kernel(content: dict[str, Any], buffers: list[str]) -> list[Any]:
        panel._received(panel, content, [base64.b64decode(one) for one in buffers])
        panel.wait(60)
        answered = list(said)
        said.clear()
        return answered

    page.expose_function("toKernel", to_kernel)
    page.expose_function("changed", lambda state: [setattr(panel, k, v) for k, v in state.items()] and None)
    page.goto("about:blank")
    names = [name for name in panel.traits(sync=True) if not name.startswith("_") and name not in OWN]
    page.evaluate(MODEL, [panel._esm, panel._css, {name: getattr(panel, name) for name in names}])
