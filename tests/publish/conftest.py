"""The samples' scene of the crossing with all that it cites, and the particulars of an invented picture of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import pytest

import refarchive
from refarchive.paper.citing import Citations
from refarchive.publish.caption import Basis, Clause
from refarchive.publish.historical_note import Claim
from refarchive.records.dates import read_date, shown
from refarchive.records.model import Evidence, Need, Reference, Scene, Witness
from refarchive.records.wall import Edition, Part, Particulars, Place
from refarchive.scenes.coverage import NeedCoverage, coverage

SAMPLES = Path(__file__).parents[2] / "sample_refs"
OWN = Particulars(
    "frame-1",
    title="The pilot’s crossing",
    creator="A. Photographer (invented)",
    created="2027-10-12",
    credit_line="© 2027 A. Photographer (invented)",
    taken_at=Place(sublocation="Hard-bedded shallow behind the bank", city="Merrow Sands (invented)"),
    thanks=("The Merrow guide", "The harbour office"),
    contributors=(("T. Marl", "the mare’s handler"),),
    editions=(Edition("Large", 1200, 800, 5, 2, paper="pigment print on cotton paper"),),
    parts=(
        Part("Carrier’s cart and load", (0.08, 0.3, 0.35, 0.48), "supported", "cart"),
        Part("The mare", (0.39, 0.39, 0.33, 0.4), "supported", "mare"),
        Part("Isaac Garrow’s coat", (0.765, 0.44, 0.11, 0.26), "supported", "isaac-oilskin"),
        Part("His beard", (0.82, 0.395, 0.05, 0.06), "inferred", "isaac-face", "one plate, and its yellow goes dark"),
        Part("His staff", (0.885, 0.47, 0.04, 0.31), "supported", "isaac-staff"),
        Part("Ears of the mare", (0.625, 0.375, 0.05, 0.07), "invented", "", "no picture shows how she held them"),
        Part("Spray at the wheel", (0.16, 0.68, 0.2, 0.12), "unknown", "wheel-spray"),
        Part("Sky", (0, 0, 1, 0.3), "inferred", "overcast", "drawn grey; the day book says only fog"),
        Part("Far shore", (0.43, 0.33, 0.57, 0.09), "supported", "far-tower"),
    ),
)
BARE = Particulars("f")


@dataclass(frozen=True)
class Record:
    """A scene, what it cites, and what each of its needs rests on."""

    scene: Scene
    references: Mapping[str, Reference]
    numbers: Any
    rows: tuple[NeedCoverage, ...]
    own: Particulars

    def words(self) -> str:
        """Every word of the record, and its dates in words."""
        dates = [shown(w) for r in self.references.values() for w in (r.when, r.depicts) if w]
        dates += [shown(self.scene.when)] if self.scene.when else []
        dates += [shown(read_date(self.own.created))] if self.own.created else []
        numbers = [self.numbers.number(one) for one in self.references]
        places = self.scene.site.candidates if self.scene.site else ()
        told = [asdict(self.scene), [asdict(r) for r in self.references.values()], asdict(self.own)]
        return " ".join([*leaves(told), *dates, *numbers, *(f"{p.radius_m:g}" for p in places)])

    def value(self, field: str) -> list[str]:
        """The values of a field that a basis names, found by its own route."""
        room, _, name = field.partition(".")
        kind, _, key = room.partition(":")
        place = next((p for p in self.scene.site.candidates if p.chosen), None) if self.scene.site else None
        edition = next((e for e in self.own.editions if e.name == key), None)
        holder: Any = {
            "scene": self.scene,
            "particulars": self.own,
            "place": place,
            "edition": edition,
            "need": self.scene.need(key),
            "figure": self.scene.figure(key),
            "reference": self.references.get(key),
        }.get(kind)
        if kind == "part":
            holder = self.own.parts[int(key) - 1]
        if kind == "first dates":
            return [key]
        if name in ("evidence.note", "answers", "answers.note"):
            pieces = holder.evidence if name == "evidence.note" else holder.answers
            return [getattr(one, "thing" if name == "answers" else "note") for one in pieces]
        for step in name.split("."):
            holder = getattr(holder, step)
        if field == "particulars.contributors":
            return [f"{who} ({role})" for who, role in holder]
        if field in ("particulars.created", "scene.when") or name in ("when", "depicts"):
            return [str(holder), shown(read_date(holder) if isinstance(holder, str) else holder)]
        many = [holder] if isinstance(holder, str | float | int) else list(holder)
        return [f"{one:g}" if isinstance(one, int | float) else str(one) for one in many]


def leaves(value: Any) -> Iterable[str]:
    if isinstance(value, Mapping):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from leaves(inner)
    elif value is not None:
        yield f"{value:g}" if isinstance(value, int | float) else str(value)


def runs(text: str) -> set[str]:
    """Words of a text, in lower case."""
    return set(re.findall(r"\w+", text.casefold()))


@pytest.fixture(scope="session")
def crossing(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """The scene of the samples, out of an archive."""
    from refarchive.jobs.planning.dossier import cited

    with refarchive.create(tmp_path_factory.mktemp("crossing") / "archive", "tiny") as made:
        made.gather(sheet=SAMPLES / "references.csv")
        made.read_scene(SAMPLES / "scenes" / "pilots-crossing.toml")
        scene = made._kit.store.scene("pilots-crossing")
        references, details, passages = cited(made._kit, scene)
    numbers = Citations(scene, references, details, passages)
    return Record(scene, references, numbers, coverage(scene, references), OWN)


class Check:
    """What every drafted sentence must hold to."""

    @staticmethod
    def stands(record: Record, sentences: Sequence[Clause | Claim]) -> None:
        """Each sentence repeats a field word for word, or cites evidence of the scene; it says nothing of its own."""
        for one in sentences:
            assert one.rests_on, one.text
            for basis in one.rests_on:
                if basis.words:
                    assert basis.words.rstrip(".") in one.text, (basis, one.text)
                    values = [" ".join(v.split()).casefold() for v in record.value(basis.field)]
                    assert basis.words.casefold() in values, (basis, values)
                else:
                    Check.cites(record, basis)

    @staticmethod
    def cites(record: Record, basis: Basis) -> None:
        if basis.reference:
            assert basis.reference in record.references
            assert basis.witness == record.references[basis.reference].witness.value
            assert basis.number == record.numbers.number(basis.reference, basis.detail, basis.passage)
        else:
            assert record.value(basis.field)

    @staticmethod
    def foreign(record: Record, text: str, templates: Iterable[str]) -> set[str]:
        """Words that are neither ours nor the record's."""
        ours = runs(" ".join(re.sub(r"\{\w+\}", " ", one) for one in templates))
        return runs(text) - ours - runs(record.words())


@pytest.fixture(scope="session")
def check() -> type[Check]:
    return Check


class Plainly:
    """Numbers for references as they come."""

    def number(self, reference_id: str, detail_id: str | None = None, passage_id: str | None = None) -> str:
        return f"Pl. {reference_id}"


@pytest.fixture(scope="session")
def small() -> Any:
    """A maker of small records: a scene of 14 October 1869 with one need, and references by letters."""

    def make(
        *cited: tuple[Reference, Evidence], own: Particulars = BARE, when: str = "1869-10-14", **more: Any
    ) -> Record:
        need = Need("hat", "Hat", "wardrobe", evidence=tuple(e for _, e in cited), answers=more.pop("answers", ()))
        scene = Scene("s", "S", "event", "", when=read_date(when) if when else None, needs=(need,), **more)
        references = {r.id: r for r, _ in cited}
        return Record(scene, references, Plainly(), coverage(scene, references), own)

    return make


@pytest.fixture(scope="session")
def piece() -> Any:
    """A maker of a reference and the evidence it gives."""

    def make(letter: str, witness: Witness, when: str = "1869", relation: str = "shows", **more: Any) -> Any:
        fields = {name: more.pop(name) for name in ("note", "fit") if name in more}
        reference = Reference(letter, "image", f"Title {letter}", "", witness=witness, **more)
        reference = replace(reference, when=read_date(when) if when else None)
        return reference, Evidence(letter, relation, **fields)

    return make
