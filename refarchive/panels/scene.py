"""A scene and its dossier: story, intent, figures, needs with their evidence, cost, the pages as they will print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import traitlets

from refarchive import leftovers
from refarchive.archive import Archive
from refarchive.errors import BadQuery
from refarchive.panels.base import NOTHING, Answer, Panel, answers, drawn, pages_of, script, style
from refarchive.records.model import DEPARTMENTS, Evidence, Intent, Need, Reference
from refarchive.records.model import Scene as Planned

HEAD = (
    "title", "series", "event", "date", "place", "latitude", "longitude", "story", "key_reference", "statements",
    "misreadings", "currency",
)  # fmt: skip
TARGETS = tuple(name for name in Intent.__dataclass_fields__ if name not in ("palette", "like"))
TEXTS = ("words", "light_from")
PER_CENT = ("horizon", "horizon_tolerance", "blown_most", "blocked_most")  # held as parts of 1
NEED = ("name", "figure", "prominence", "description", "do", "dont", "substitutes", "breakdown", "facts", "swatch")
FIGURE = ("name", "performer", "role", "rank", "action", "wet", "sizes")
COUNTS = ("hero", "wet_doubles", "spare")
MONEY = ("deposit", "estimate", "actual")
MOST_PAGES = 80  # of a dossier, shown before printing

Said = Mapping[str, Any]


class Scene(Panel):
    """The panel of a scene. `scene` is its slug."""

    _esm = script("editing", "needs", "scene")
    _css = style("scene")
    scene = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "") -> None:
        super().__init__(archive, scene=scene)

    @answers("start")
    def start(self) -> Answer:
        """The scenes there are, and the words that plans use."""
        scenes = [{"slug": one.slug, "title": one.title} for one in self.archive.scenes()]
        return {"scenes": scenes, **self.archive.planning.words()}

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
        named = [scene.key_reference, *scene.intent.like, *(e.reference for need in scene.needs for e in need.evidence)]
        named += [one.reference for need in scene.needs for one in need.swatches]
        cited = {name: self.archive.reference(name) for name in dict.fromkeys(named) if name}
        places, pictures = self.previews(list(cited.values()))
        shelf = {
            name: {**self._reference(one), "picture": place}
            for (name, one), place in zip(cited.items(), places + [None] * len(cited), strict=False)
        }
        labels = self.archive.planning.words()["facts"]
        needs = [
            {**_need(need, labels[need.department]), **_rests_on(need, coverage[need.slug])} for need in scene.needs
        ]
        return {"scene": _scene(scene), "references": shelf, "needs": needs}, pictures

    def _reference(self, reference: Reference) -> dict[str, Any]:
        return _kept(self.archive.summary(reference), ("title", "kind", "date_shown", "witness"))

    @answers("save")
    def save(
        self,
        slug: str,
        revision: int,
        scene: Said | None = None,
        intent: Said | None = None,
        safety: Said | None = None,
        figures: Mapping[str, Said] | None = None,
        needs: Mapping[str, Said] | None = None,
        variations: Sequence[Mapping[str, str]] | None = None,
    ) -> Answer:
        """Keep changed values, made on the revision shown."""
        self.archive.planning.change(
            slug,
            scene={key: _place(key, value) for key, value in (scene or {}).items() if key in HEAD},
            intent=_intent(intent or {}),
            safety=safety,
            figures={name: _kept(said, FIGURE) for name, said in (figures or {}).items()},
            needs={name: _said_of_need(said) for name, said in (needs or {}).items()},
            variations=None if variations is None else [_kept(one, ("title", "moment")) for one in variations],
            expected=revision,
        )
        return self.open_scene(slug)

    @answers("text")
    def text(self, slug: str) -> Answer:
        """The plan as it is written."""
        return {"text": self.archive.plan_text(slug), "revision": self.archive.scene(slug).revision}

    @answers("write")
    def write(self, slug: str, revision: int, text: str) -> Answer:
        """Keep the plan as it is written here, made on the revision shown."""
        self.archive.planning.write(slug, text, expected=revision)
        return self.open_scene(slug)

    @answers("add")
    def add(self, slug: str, revision: int, kind: str, values: Mapping[str, str]) -> Answer:
        """One more need (name, department, description) or figure (name, role)."""
        planning = self.archive.planning
        given = {key: str(value).strip() for key, value in values.items()}
        if kind == "figure":
            planning.add_figure(slug, _kept(given, FIGURE), expected=revision)
        else:
            planning.add_need(slug, _kept(given, ("name", "department", "description")), expected=revision)
        return self.open_scene(slug)

    @answers("remove")
    def remove(self, slug: str, revision: int, kind: str, name: str) -> Answer:
        """A need with its evidence, or a figure, out of the scene."""
        planning = self.archive.planning
        (planning.remove_figure if kind == "figure" else planning.remove_need)(slug, name, expected=revision)
        return self.open_scene(slug)

    @answers("unlink")
    def unlink(self, slug: str, need: str, reference: str) -> Answer:
        """A reference out of a need's evidence."""
        self.archive.evidence.unlink(slug, need, reference)
        return self.open_scene(slug)

    @answers("judge")
    def judge(self, slug: str, revision: int, need: str, evidence: int, note: str, fit: Mapping[str, str]) -> Answer:
        """What a piece of evidence tells, and how it fits the scene."""
        said = {aspect: word for aspect, word in fit.items() if word}
        self.archive.planning.judge(slug, need, evidence, note=note.strip(), fit=said, expected=revision)
        return self.open_scene(slug)

    @answers("answer")
    def answer(self, slug: str, revision: int, need: str, thing: str, says: str, note: str = "") -> Answer:
        """A question answered, or an answer taken back."""
        self.archive.planning.answer(slug, need, thing, says, note.strip(), expected=revision)
        return self.open_scene(slug)

    @answers("colours")
    def colours(self, reference: str) -> Answer:
        """The main colours of a picture, to begin a palette with."""
        found = self.archive.planning.colours_of(reference)
        return {"palette": [{**one, "share": round(100 * one["share"])} for one in found]}

    @answers("figure", long=True, kept=NOTHING)
    def figure(self, number: int, slug: str) -> Answer:
        """What the needs rest on, and the references themselves, drawn against time."""
        self.tell(number, 0, 1, "Drawing")
        evidence = self.archive.evidence
        return {}, [drawn(evidence.coverage_figure(slug)), drawn(evidence.timeline_figure(slug))]

    @answers("dossier", long=True, kept="No page was made. The scene is as it was.")
    def dossier(self, number: int, slug: str, department: str = "", paper: bool = False) -> Answer:
        """The dossier as it will print: small pages to look at, or the files themselves where `paper` is asked for."""
        if department and department not in DEPARTMENTS:
            raise BadQuery(f"There is no department {department!r}.", f"There are: {', '.join(DEPARTMENTS)}.")
        self.tell(number, 0, 1, "Setting the pages")
        with leftovers.temporary("panel") as folder:
            progress = self.telling(number)
            written = self.archive.dossier(slug, department=department or None, out=folder, progress=progress)
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


# --- a scene as the browser shows it ----------------------------------------------------------------------------------


def _scene(scene: Planned) -> dict[str, Any]:
    said = {key: getattr(scene, key) for key in HEAD if key != "date"}
    when, intent = scene.when, scene.intent
    return {
        **said,
        "statements": list(scene.statements),
        "misreadings": list(scene.misreadings),
        "date": (when.text or when.edtf) if when else "",
        "slug": scene.slug,
        "revision": scene.revision,
        "intent": {key: _shown(key, getattr(intent, key)) for key in TARGETS},
        "palette": [{"hex": c.hex, "share": round(100 * c.share, 1), "name": c.name} for c in intent.palette],
        "like": list(intent.like),
        "figures": [{**_kept(vars(one), ("slug", *FIGURE)), "sizes": dict(one.sizes)} for one in scene.figures],
        "variations": [{"title": one.title, "moment": one.moment} for one in scene.variations],
        "safety": dict(scene.safety),
    }


def _need(need: Need, labels: Mapping[str, str]) -> dict[str, Any]:
    keys = {label: key for key, label in labels.items()}
    return {
        **_kept(vars(need), ("slug", "name", "department", "figure", "prominence", "description")),
        **{key: list(getattr(need, key)) for key in ("do", "dont", "substitutes", "breakdown")},
        "facts": {keys.get(label, label): value for label, value in need.facts},
        "quantity": dict(vars(need.quantity)),
        "pieces": need.quantity.total,
        "sourcing": dict(vars(need.sourcing)),
        "swatch": [
            {"reference": one.reference, "region": list(one.region) if one.region else None, "name": one.name}
            for one in need.swatches
        ],
        "evidence": [_evidence(one) for one in need.evidence],
    }


def _evidence(one: Evidence) -> dict[str, Any]:
    return {"reference": one.reference, "relation": one.relation, "note": one.note, "fit": dict(one.fit)}


def _rests_on(need: Need, coverage: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "witnesses": coverage["independent_witnesses"],
        "against": len({one.reference for one in need.evidence if one.relation == "contradicts"}),
        "gap": coverage["gap"],
        "change": coverage["what_would_change"],
        "questions": [{"thing": one["thing"], "words": one["question"]} for one in coverage["anachronisms"]],
        "answered": [{"thing": one["thing"], **one["answer"]} for one in coverage["answered"]],
        "nearest": [{"reference": one["reference"], "title": one["title"]} for one in coverage["nearest"]],
    }


def _shown(name: str, value: Any) -> Any:
    return round(100 * value, 1) if name in PER_CENT and value is not None else value


# --- what the browser sends, as a plan holds it -----------------------------------------------------------------------


def _kept(said: Said, names: Sequence[str]) -> dict[str, Any]:
    return {key: value for key, value in said.items() if key in names}


def _intent(said: Said) -> dict[str, Any]:
    values = {key: _target(key, value) for key, value in said.items() if key in TARGETS}
    if "palette" in said:
        values["palette"] = [
            {
                "hex": str(one.get("hex", "")),
                "share": (number("share", one.get("share")) or 0.0) / 100,
                "name": str(one.get("name", "")),
            }
            for one in said["palette"]
        ]
    if "like" in said:
        values["like"] = [str(one) for one in said["like"]]
    return values


def _target(name: str, value: Any) -> Any:
    if name in TEXTS:
        return value
    found = number(name, value)
    return found / 100 if found is not None and name in PER_CENT else found


def _place(name: str, value: Any) -> Any:
    return number(name, value) if name in ("latitude", "longitude") else value


def _said_of_need(said: Said) -> dict[str, Any]:
    values = _kept(said, NEED)
    if "quantity" in said:
        values["quantity"] = {key: _count(key, value) for key, value in said["quantity"].items()}
    if "sourcing" in said:
        values["sourcing"] = {
            key: number(key, value) if key in MONEY else value for key, value in said["sourcing"].items()
        }
    return values


def _count(name: str, value: Any) -> Any:
    if name not in COUNTS:
        return value
    found = number(name, value)
    if found is not None and not found.is_integer():
        raise BadQuery(f"{value!r} is no whole number for {name.replace('_', ' ')}.", "Write how many pieces.")
    return None if found is None else int(found)


def number(name: str, value: Any) -> float | None:
    """A number as a person writes it, a comma for the point too; None for nothing. Raises BadQuery for other words."""
    if value in (None, ""):
        return None
    try:
        return float(str(value).replace(",", "."))
    except ValueError:
        raise BadQuery(
            f"{value!r} is no number for {name.replace('_', ' ')}.", "Write a number, or leave it empty."
        ) from None
