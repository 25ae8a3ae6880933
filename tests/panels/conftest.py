"""A real browser for panels: a widget's script in a blank page with the real panel behind it; a real JupyterLab."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import nbformat
import pytest
from blank_page import CHROMIUM, FLAGS, put_up
from playwright.sync_api import Browser, Page, sync_playwright

from refarchive.panels.base import Panel


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def show(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Show a panel in a blank page of a given width; requests to anywhere else fail the test, and so do page errors."""
    contexts, outside, errors, panels = [], [], [], []

    def shown(panel: Panel, width: int = 1200, zoom: float = 1.0) -> Page:
        context = browser.new_context(viewport={"width": round(width / zoom), "height": 900}, device_scale_factor=zoom)
        contexts.append(context)
        panels.append(panel)
        page = context.new_page()
        page.on("request", lambda r: None if r.url.startswith(("data:", "blob:", "about:")) else outside.append(r.url))
        page.on("pageerror", lambda error: errors.append(str(error)))
        put_up(page, panel)
        return page

    yield shown
    for panel in panels:
        panel.close()
    for context in contexts:
        context.close()
    assert outside == []
    assert errors == []


@pytest.fixture
def axe() -> Callable[[Page], list[str]]:
    """What axe-core finds serious or worse on a page."""
    import axe_playwright_python

    source = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")

    def run(page: Page) -> list[str]:
        page.evaluate(source)
        page.evaluate("document.documentElement.lang = 'en'; document.title = 'panel'")
        found = page.evaluate("axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa']})")["violations"]
        bad = [one for one in found if one["impact"] in ("serious", "critical")]
        return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in bad]

    return run


# -- a real JupyterLab --------

SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "docmanager-extension/plugin": {"autosave": False},
    "notebook-extension/tracker": {"windowingMode": "none"},
}
RUN_ALL = """async () => {
  const session = jupyterapp.shell.currentWidget.context.sessionContext;
  await session.ready;
  await session.session.kernel.info;
  await jupyterapp.commands.execute('notebook:run-all-cells');
}"""
TOKEN = "panels"


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    place = tmp_path_factory.mktemp("lab")
    (place / "notebooks").mkdir()
    for name, values in SETTINGS.items():
        file = place / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(values))
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    folders = {
        "JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data", "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython", "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
    }  # fmt: skip
    base = f"http://127.0.0.1:{port}"
    with (place / "log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1", f"--port={port}",
             "--ServerApp.port_retries=0", f"--IdentityProvider.token={TOKEN}", "--expose-app-in-browser",
             f"--ServerApp.root_dir={place / 'notebooks'}", "--LabApp.extension_manager=readonly"],
            env=os.environ | {name: str(place / folder) for name, folder in folders.items()},
            stdout=log, stderr=subprocess.STDOUT,
        )  # fmt: skip
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{base}/api/status?token={TOKEN}")
                break
            except OSError:
                time.sleep(0.1)
        yield base, place / "notebooks"
        server.terminate()
        server.wait(20)


@pytest.fixture
def notebook(lab: tuple[str, Path], browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open a notebook of these cells, or one that lies there, and run all its cells."""
    base, root = lab
    context = browser.new_context(viewport={"width": 1400, "height": 1000})
    page = context.new_page()
    outside: list[str] = []
    page.on("request", lambda r: None if r.url.startswith((base, "data:", "blob:")) else outside.append(r.url))

    def opened(*cells: str, file: str = "") -> Page:
        name = file or f"n{time.time_ns()}.ipynb"
        if not file:
            made = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
            made.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
            nbformat.write(made, root / name)
        page.goto(f"{base}/doc/tree/{name}?token={TOKEN}&reset", wait_until="domcontentloaded")
        page.locator(".jp-NotebookPanel .jp-Notebook").wait_for(timeout=60_000)
        page.evaluate(RUN_ALL)
        return page

    yield opened
    context.close()
    for session in json.loads(_asked(f"{base}/api/sessions", "GET")):
        _asked(f"{base}/api/sessions/{session['id']}", "DELETE")
    assert outside == []


def _asked(url: str, method: str) -> bytes:
    asked = urllib.request.Request(url, method=method, headers={"Authorization": f"token {TOKEN}"})
    with urllib.request.urlopen(asked) as answer:
        return bytes(answer.read())
