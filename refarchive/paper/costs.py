"""Pieces and costs in a dossier: in words beside a need, as a department's page, and as the section over all."""

from __future__ import annotations

from collections.abc import Sequence

from refarchive.paper import blocks
from refarchive.paper.blocks import FactValue, Page, Section
from refarchive.records.model import DEPARTMENTS, Need, Sourcing

TITLES = {"wardrobe": "Wardrobe", "props": "Props", "hair and make-up": "Hair and make-up", "set": "Set"}
TITLES |= {"light": "Light", "effects": "Effects"}
BY_PIECE = ("wardrobe", "props")  # departments whose needs are pieces, to be counted and paid for
MONEY = (("deposit", "Deposit"), ("estimate", "Estimate"), ("actual", "Actual"))


def pieces_page(department: str, needs: Sequence[Need], currency: str) -> Page:
    """What a department has to find, piece by piece, with what it costs, and a list to tick."""
    rows: list[Sequence[object]] = [
        (n.name, n.quantity.total, n.sourcing.state, *map(_money, amounts(n)), n.sourcing.due, n.sourcing.owner)
        for n in needs
    ]
    sums = _sums(needs)
    rows.append(("In all", sum(n.quantity.total for n in needs), "", *map(_money, sums), "", ""))
    columns = ("Item", "Pieces", "State", *(label for _, label in MONEY), "Due", "Owner")
    parts = [
        blocks.table(columns, rows, numeric=(1, 3, 4, 5), total=True),
        blocks.text(_missing_amounts(needs, currency), "small"),
        blocks.tick("To tick by hand when packed", [f"{n.name}: {n.quantity.total}" for n in needs]),
    ]
    return blocks.page(f"Pieces and costs: {department}", parts)


def costs_section(needs: Sequence[Need], currency: str) -> Section:
    """Costs by department; without pages, and so left out, where there are no needs."""
    groups = [(d, [n for n in needs if n.department == d]) for d in DEPARTMENTS]
    rows: list[Sequence[object]] = [
        (TITLES[d], len(own), sum(n.quantity.total for n in own), *map(_money, _sums(own))) for d, own in groups if own
    ]
    if not rows:
        return blocks.section("costs", "Costs", [])
    pieces = sum(n.quantity.total for n in needs)
    rows.append(("In all", len(needs), pieces, *map(_money, _sums(needs))))
    columns = ("Department", "Needs", "Pieces", *(label for _, label in MONEY))
    parts = [
        blocks.table(columns, rows, numeric=(1, 2, 3, 4, 5), total=True),
        blocks.text(_missing_amounts(needs, currency), "small"),
    ]
    return blocks.section("costs", "Costs of all departments", [blocks.page("", parts)], start="sheet")


def quantity_in_words(need: Need) -> str:
    """How many pieces of which use, and why."""
    q = need.quantity
    kinds = ((q.hero, "hero"), (q.wet_doubles, "wet doubles"), (q.spare, "spare"))
    parts = [f"{count} {what}" for count, what in kinds if count]
    sentence = f"{' + '.join(parts)} = {q.total}" if len(parts) > 1 else "".join(parts) or "none"
    return f"{sentence}. {q.why}" if q.why else sentence


def sourcing_facts(sourcing: Sourcing, currency: str) -> list[tuple[str, FactValue]]:
    """Where it is to come from, what it costs, by when and by whom."""
    money = [
        f"{label.lower()} {value:,.2f}" + (f" {currency}" if currency else "")
        for name, label in MONEY
        if (value := getattr(sourcing, name)) is not None
    ]
    where = ", ".join(x for x in (sourcing.state, sourcing.supplier) if x)
    due = ", ".join(x for x in (f"due {sourcing.due}" if sourcing.due else "", sourcing.owner) if x)
    return [("Sourcing", where), ("Costs", ", ".join(money)), ("Due, owner", due)]


def amounts(need: Need) -> list[float | None]:
    """Deposit, estimate and actual cost; None where nothing was entered."""
    return [getattr(need.sourcing, name) for name, _ in MONEY]


def _sums(needs: Sequence[Need]) -> list[float | None]:
    columns = list(zip(*map(amounts, needs), strict=True))
    return [round(sum(v for v in c if v is not None), 2) if any(v is not None for v in c) else None for c in columns]


def _money(value: float | None) -> str:
    return "–" if value is None else f"{value:,.2f}"


def _missing_amounts(needs: Sequence[Need], currency: str) -> str:
    unit = f"Amounts in {currency}." if currency else "The plan states no currency."
    columns = list(zip(*map(amounts, needs), strict=True))
    gaps = [
        f"{label.lower()} {count}" for (_, label), c in zip(MONEY, columns, strict=True) if (count := c.count(None))
    ]
    if not gaps:
        return unit
    listed = ", ".join(gaps)
    return f"{unit} A sum holds only what was entered; of {len(needs)} needs these lack an amount: {listed}."
