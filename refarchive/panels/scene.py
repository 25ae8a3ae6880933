"""A scene and its dossier: story, intent, needs with their evidence, what they cost, the pages as they will print."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from typing import Any

import traitlets

from refarchive.archive import Archive
from refarchive.errors import BadQuery
from refarchive.panels.base import Answer, Panel, answers, drawn, pages_of, script, style
from refarchive.records.model import DEPARTMENTS, SOURCING_STATES, Need
from refarchive.records.model import Scene as Planned

HEAD = ("title", "series", "event", "date", "place", "story", "statements", "misreadings", "currency")
TARGETS = ("words", "key", "key_tolerance", "contrast", "contrast_tolerance", "light_from", "warmth_k", "horizon")
TEXTS = {"words", "light_from"}
MONEY = ("deposit", "estimate", "actual")
MOST_PAGES = 80  # of a dossier, shown before printing


class Scene(Panel):
    """The panel of a scene. `scene` is its slug, `revision` the one that is shown."""

    _esm = script("scene")
    _css = style("scene")
    scene = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "") -> None:
        super().__init__(archive, scene=scene)

    @answers("start")
    def start(self) -> Answer:
        """The scenes there are, and the words that plans use."""
        return {
            "scenes": [{"slug": one.slug, "title": one.title} for one in self.archive.scenes()],
            "departments": list(DEPARTMENTS),
            "states": list(SOURCING_STATES),
        }

    @answers("begin")
    def begin(self, title: str) -> Answer:
        """A new scene."""
        return {"slug": self.archive.planning.begin(title.strip()).slug, **_document(self.start())}

    @answers("open")
    def open_scene(self, slug: str) -> Answer:
        """Everything of a scene, with what each need rests on and small pictures of its evidence."""
        scene = self.archive.scene(slug)
        self.scene = slug
        coverage = {one["need"]: one for one in self.archive.evidence.coverage(slug)["needs"]}
        cited = list(dict.fromkeys(e.reference for need in scene.needs for e in need.evidence))
        places, pictures = self.previews(cited)
        picture = dict(zip(cited, places, strict=False))
        needs = [self._need(need, coverage[need.slug], picture) for need in scene.needs]
        return {"scene": _head(scene), "needs": needs}, pictures

    def _need(self, need: Need, coverage: Mapping[str, Any], picture: Mapping[str, int | None]) -> dict[str, Any]:
        sourcing = need.sourcing
        return {
            "slug": need.slug,
            "name": need.name,
            "department": need.department,
            "figure": need.figure,
            "description": need.description,
            "pieces": need.quantity.total,
            "sourcing": {**vars(sourcing)},
            "witnesses": coverage["independent_witnesses"],
            "gap": coverage["gap"],
            "change": coverage["what_would_change"],
            "questions": [one["question"] for one in coverage["anachronisms"]],
            "evidence": [
                {
                    "reference": one.reference,
                    "title": (reference := self.archive.reference(one.reference)).title,
                    "relation": one.relation,
                    "note": one.note,
                    "date": reference.when.text or reference.when.edtf if reference.when else "undated",
                    "witness": reference.witness.value,
                    "picture": picture.get(one.reference),
                }
                for one in need.evidence
            ],
        }

    @answers("save")
    def save(
        self,
        slug: str,
        revision: int,
        scene: Mapping[str, Any] | None = None,
        intent: Mapping[str, Any] | None = None,
        needs: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> Answer:
        """Keep changed values, made on the revision shown."""
        head = {key: value for key, value in (scene or {}).items() if key in HEAD}
        aims = {key: _figure(key, value) for key, value in (intent or {}).items() if key in TARGETS}
        said = {
            name: {
                **{key: value for key, value in one.items() if key in ("name", "description")},
                "sourcing": {key: _money(key, value) for key, value in one.get("sourcing", {}).items()},
            }
            for name, one in (needs or {}).items()
        }
        self.archive.planning.change(slug, scene=head, intent=aims, needs=said, expected=revision)
        return self.open_scene(slug)

    @answers("add")
    def add(self, slug: str, revision: int, name: str, department: str, description: str = "") -> Answer:
        """One more need."""
        values = {"name": name.strip(), "department": department, "description": description.strip()}
        self.archive.planning.add_need(slug, values, expected=revision)
        return self.open_scene(slug)

    @answers("remove")
    def remove(self, slug: str, revision: int, need: str) -> Answer:
        """A need and its evidence out of the scene."""
        self.archive.planning.remove_need(slug, need, expected=revision)
        return self.open_scene(slug)

    @answers("unlink")
    def unlink(self, slug: str, need: str, reference: str) -> Answer:
        """A reference out of a need's evidence."""
        self.archive.evidence.unlink(slug, need, reference)
        return self.open_scene(slug)

    @answers("figure", long=True)
    def figure(self, number: int, slug: str) -> Answer:
        """What the needs rest on, and the references themselves, drawn against time."""
        self.tell(number, 0, 1, "Drawing")
        evidence = self.archive.evidence
        return {}, [drawn(evidence.coverage_figure(slug)), drawn(evidence.timeline_figure(slug))]

    @answers("dossier", long=True)
    def dossier(self, number: int, slug: str, department: str = "", paper: bool = False) -> Answer:
        """The dossier as it will print: small pages to look at, or the files themselves where `paper` is asked for."""
        if department and department not in DEPARTMENTS:
            raise BadQuery(f"There is no department {department!r}.", f"There are: {', '.join(DEPARTMENTS)}.")
        self.tell(number, 0, 1, "Setting the pages")
        with tempfile.TemporaryDirectory(prefix="refarchive-panel-") as folder:
            written = self.archive.dossier(slug, department=department or None, out=folder)
            names = [written.pdf.name, written.html.name]
            pdf, html = written.pdf.read_bytes(), written.html.read_bytes()
        if paper:
            return {"names": names, "pages": written.pages}, [pdf, html]
        pages = []
        for done, page in enumerate(pages_of(pdf, MOST_PAGES)):
            self.tell(number, done, min(written.pages, MOST_PAGES), "Drawing the pages")
            pages.append(page)
        return {"names": names, "pages": written.pages}, pages


def _document(answer: Answer) -> dict[str, Any]:
    return answer[0] if isinstance(answer, tuple) else answer


def _head(scene: Planned) -> dict[str, Any]:
    said = {key: getattr(scene, key) for key in HEAD if key != "date"}
    when = scene.when
    return {
        **said,
        "statements": list(scene.statements),
        "misreadings": list(scene.misreadings),
        "date": (when.text or when.edtf) if when else "",
        "slug": scene.slug,
        "revision": scene.revision,
        "intent": {key: getattr(scene.intent, key) for key in TARGETS},
        "palette": [{"hex": one.hex, "share": one.share, "name": one.name} for one in scene.intent.palette],
        "figures": [{"slug": one.slug, "name": one.name, "action": one.action} for one in scene.figures],
    }


def _figure(name: str, value: Any) -> Any:
    """A target as a plan holds it. Raises BadQuery for words where a number belongs."""
    if name in TEXTS or value in (None, ""):
        return value
    return _number(name.replace("_", " "), value)


def _money(name: str, value: Any) -> Any:
    return value if name not in MONEY or value in (None, "") else _number(name, value)


def _number(name: str, value: Any) -> float:
    try:
        return float(str(value).replace(",", "."))
    except ValueError:
        raise BadQuery(f"{value!r} is no number for {name}.", "Write a number, or leave it empty.") from None
