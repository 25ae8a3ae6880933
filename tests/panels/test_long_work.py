"""Long work of a panel: told, stopped, and beside everything else that is asked; nothing in the kernel's own thread."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from drawn import draw
from playwright.sync_api import Page, expect

from refarchive import panels
from refarchive.archive import Archive
from refarchive.panels import Wall
from refarchive.panels.base import Answer, Panel, answers

PLAN = '[scene]\ntitle = "The ford"\nslug = "ford"\nseries = "Water"\nevent = "e"\nstory = "s"\n'
PANELS = [getattr(panels, name) for name in panels.__all__ if isinstance(getattr(panels, name), type)]


class Slow(Panel):
    """A panel whose long work waits until it is let go."""

    _esm = ""
    _css = ""

    def __init__(self, archive: Archive) -> None:
        super().__init__(archive)
        self.begun, self.go = threading.Event(), threading.Event()
        self.threads: list[threading.Thread] = []

    @answers("dig", long=True, kept="The hole is kept.")
    def dig(self, number: int, steps: int = 3) -> Answer:
        """Dig, a step at a time."""
        for step in range(steps):
            self.tell(number, step, steps, "digging")
            self.begun.set()
            assert self.go.wait(30)
        return {"dug": steps}

    @answers("ask")
    def ask(self) -> Answer:
        """Answer at once."""
        self.threads.append(threading.current_thread())
        return {"said": "yes"}


def listening(panel: Panel) -> list[dict[str, Any]]:
    """What the panel sends, as it sends it."""
    said: list[dict[str, Any]] = []
    panel.send = lambda content, buffers=None: said.append(content)  # type: ignore[method-assign]
    return said


def asked(panel: Panel, verb: str, number: int, **given: Any) -> None:
    panel._received(panel, {"ask": verb, "number": number, "with": given}, [])


@pytest.fixture
def slow(archive: Archive) -> Slow:
    return Slow(archive)


def test_what_is_asked_is_answered_while_long_work_goes_on_and_not_by_the_kernel(slow: Slow) -> None:
    said = listening(slow)
    asked(slow, "dig", 1)
    assert slow.begun.wait(30)
    asked(slow, "ask", 2)
    slow._answering.submit(bool).result(30)
    assert {"number": 2, "answer": {"said": "yes"}} in said
    assert slow.threads[0] is not threading.current_thread()
    asked(slow, "dig", 3)
    assert said[-1]["problem"]["sentence"].startswith("Other work")
    slow.go.set()
    slow.wait(30)
    assert said[-1] == {"number": 1, "answer": {"dug": 3}}
    slow.close()


def test_stopped_long_work_says_what_is_kept(slow: Slow) -> None:
    said = listening(slow)
    asked(slow, "dig", 1)
    assert slow.begun.wait(30)
    slow._received(slow, {"ask": "stop", "number": 0, "with": {"number": 1}}, [])
    slow.go.set()
    slow.wait(30)
    assert said[-1]["problem"] == {"sentence": "Stopped.", "step": "The hole is kept."}
    slow.close()


def test_every_step_looks_for_the_stop_and_few_are_sent(slow: Slow) -> None:
    said = listening(slow)
    slow.go.set()
    asked(slow, "dig", 1, steps=5_000)
    slow.wait(60)
    told = [one["progress"] for one in said if "progress" in one]
    assert told[0] == {"done": 0, "of": 5_000, "words": "digging", "pace": "0 of 5,000"}
    assert len(told) < 500
    assert said[-1]["answer"] == {"dug": 5_000}
    slow.close()


def test_an_open_wall_makes_its_small_pictures_beside_the_kernel(archive: Archive, tmp_path: Path, monkeypatch) -> None:
    archive.plan(PLAN)
    for number in range(3):
        draw(tmp_path / "card" / f"F_{number}.png", number)
    archive.after.take("ford", tmp_path / "card")
    makers: list[threading.Thread] = []
    real = archive._kit.files.write_preview

    def noted(*given: Any) -> Any:
        makers.append(threading.current_thread())
        return real(*given)

    monkeypatch.setattr(archive._kit.files, "write_preview", noted)
    panel = Wall(archive, "ford")
    said = listening(panel)
    asked(panel, "open", 1, slug="ford")
    panel.wait(60)
    assert len(said[-1]["answer"]["frames"]) == 3
    assert len(makers) == 3
    assert threading.current_thread() not in makers
    panel.close()


@pytest.mark.parametrize("kind", PANELS, ids=lambda kind: kind.__name__)
def test_all_long_work_of_a_panel_can_be_stopped_on_the_screen(kind: type[Panel]) -> None:
    """Whatever is marked as long is asked for with the line that has the button."""
    script = str(kind._esm)
    for verb, (_, long, kept) in kind._verbs.items():
        if long:
            assert f'ask("{verb}"' not in script, verb
            assert kept.endswith((".", "on.")), verb


def test_the_line_says_how_far_it_is_and_stops(show: Callable[..., Page], slow: Slow) -> None:
    script = Wall._esm.rpartition("export default")[0]  # type: ignore[attr-defined]
    slow._esm = f"""{script}
export default {{ render: ({{ el }}) => {{
  const told = notices();
  let hear, halted = 0;
  const ask = (verb, given, {{ progress, started }}) => new Promise((yes, no) => {{
    started(() => {{ halted += 1; no({{ sentence: "Stopped.", step: `${{halted}} asked.` }}); }});
    hear = progress;
  }});
  window.hear = (one) => hear(one);
  panelRoot(el, "Slow", told.status, told.work, told.alert);
  atLength(told, ask, [], "Digging", "dig");
}} }};"""
    page = show(slow)
    expect(page.get_by_role("status")).to_contain_text("Digging")
    page.evaluate(
        "hear({ done: 312, of: 10000, words: 'a.jpg', pace: '312 of 10,000, 41 a second, about 4 minutes left' })"
    )
    expect(page.get_by_text("312 of 10,000, 41 a second, about 4 minutes left · a.jpg")).to_be_visible()
    bar = page.get_by_role("progressbar", name="How far: Digging")
    assert bar.evaluate("one => one.value / one.max") == pytest.approx(0.0312)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("Stopped. 1 asked.")
    expect(page.get_by_role("progressbar")).to_have_count(0)
