"""Families: references that descend from one original, as the person confirmed them. A family is one witness.

A measure may propose (looks.copies); only a person confirms or turns down, and what was turned down is not proposed
again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from typing import Any

import sqlalchemy as sa

from refarchive.errors import RecordRefused, UnknownRecord
from refarchive.records import model, rows, schema
from refarchive.records.ids import family_id

Opened = Callable[[], AbstractContextManager[sa.Connection]]
Tell = Callable[[sa.Connection, str, str, Any, Any], None]


class Families:
    """The families of one archive; `Store.families`."""

    def __init__(self, reading: Opened, writing: Opened, tell: Tell) -> None:
        self._reading, self._writing, self._tell = reading, writing, tell

    def all(self) -> list[model.Family]:
        """Every family, in the order confirmed."""
        table = schema.family
        with self._reading() as connection:
            found = connection.execute(sa.select(table).order_by(table.c.number)).mappings().all()
            return [self._read(connection, row) for row in found]

    def of(self, reference: str) -> model.Family | None:
        """The family a reference belongs to, None where it stands alone."""
        member = schema.family_member
        query = (
            sa.select(schema.family)
            .join(member, member.c.family == schema.family.c.id)
            .where(member.c.reference == reference)
        )
        with self._reading() as connection:
            row = connection.execute(query).mappings().first()
            return self._read(connection, row) if row else None

    def confirm(self, members: Sequence[model.FamilyMember], note: str = "") -> model.Family:
        """Say that references descend from one original, and how. Families that share a member become one.

        What is said now of a member replaces what was said of it before. Pairs among the members that were turned down
        before are forgotten as turned down.

        Raises RecordRefused for fewer than two members, one named twice, a descent there is none of, or one that goes
        in a circle; UnknownRecord for a reference that the archive does not hold.
        """
        with self._writing() as connection:
            before = self._joined(connection, [m.reference for m in members])
            held = {m.reference: m for family in before for m in family.members}
            whole = list({**held, **{m.reference: m for m in members}}.values())
            _check(connection, members, whole)
            ids = {m.reference for m in whole}
            one = before[0].id if before else family_id(sorted(ids))
            after = model.Family(one, tuple(whole), note or next((f.note for f in before if f.note), ""))
            if before == [after]:
                return after
            for family in before:
                self._delete(connection, family.id)
            connection.execute(sa.insert(schema.family).values(id=after.id, note=after.note))
            connection.execute(
                sa.insert(schema.family_member),
                [
                    {**rows.plain(m), "after": m.after or None, "family": after.id, "position": n}
                    for n, m in enumerate(after.members)
                ],
            )
            refused = schema.not_family
            connection.execute(sa.delete(refused).where(refused.c.one.in_(ids), refused.c.other.in_(ids)))
            told = [rows.plain(f) for f in before]
            was = {"families": told} if told else None
            self._tell(connection, "changed" if told else "added", f"family:{after.id}", was, rows.plain(after))
            return after

    def leave(self, reference: str) -> None:
        """Take a reference out of its family; a family of one is no family any more. Raises UnknownRecord."""
        with self._writing() as connection:
            found = self._joined(connection, [reference])
            if not found:
                raise UnknownRecord(f"The reference {reference!r} is in no family.", "Nothing was changed.")
            family = found[0]
            rest = [m for m in family.members if m.reference != reference]
            self._delete(connection, family.id)
            kept = None
            if len(rest) > 1:
                freed = [
                    model.FamilyMember(m.reference, m.descent, "" if m.after == reference else m.after, m.note)
                    for m in rest
                ]
                kept = model.Family(family.id, tuple(freed), family.note)
                connection.execute(sa.insert(schema.family).values(id=kept.id, note=kept.note))
                connection.execute(
                    sa.insert(schema.family_member),
                    [
                        {**rows.plain(m), "after": m.after or None, "family": kept.id, "position": n}
                        for n, m in enumerate(kept.members)
                    ],
                )
            self._tell(
                connection, "changed" if kept else "removed", f"family:{family.id}", rows.plain(family),
                rows.plain(kept) if kept else None,
            )  # fmt: skip

    def turn_down(self, one: str, other: str, note: str = "") -> None:
        """Say that two references are not of one family, so that the pair is not proposed again.

        Raises RecordRefused where they are confirmed as one, UnknownRecord for a reference there is none of.
        """
        first, second = sorted((one, other))
        with self._writing() as connection:
            _known(connection, {first, second})
            if first == second:
                raise RecordRefused("A reference cannot be set apart from itself.", "Name two references.")
            families = self._joined(connection, [first])
            if families and any(m.reference == second for m in families[0].members):
                raise RecordRefused(
                    f"{first!r} and {second!r} are confirmed as one family.",
                    "Take one of them out of it first.",
                    records=(first, second),
                )
            table = schema.not_family
            key = (table.c.one == first) & (table.c.other == second)
            if connection.execute(sa.select(table).where(key)).first() is None:
                connection.execute(sa.insert(table).values(one=first, other=second, note=note))
                self._tell(connection, "added", f"not-family:{first} {second}", None, {"note": note})

    def turned_down(self) -> set[tuple[str, str]]:
        """Pairs of ids turned down, each in the order of the ids."""
        table = schema.not_family
        with self._reading() as connection:
            return {(row.one, row.other) for row in connection.execute(sa.select(table.c.one, table.c.other))}

    # --- within a transaction -----------------------------------------------------------------------------------

    def _joined(self, connection: sa.Connection, references: Sequence[str]) -> list[model.Family]:
        member = schema.family_member
        wanted = sa.select(member.c.family).where(member.c.reference.in_(list(references)))
        query = sa.select(schema.family).where(schema.family.c.id.in_(wanted)).order_by(schema.family.c.number)
        return [self._read(connection, row) for row in connection.execute(query).mappings().all()]

    @staticmethod
    def _delete(connection: sa.Connection, family: str) -> None:
        connection.execute(sa.delete(schema.family_member).where(schema.family_member.c.family == family))
        connection.execute(sa.delete(schema.family).where(schema.family.c.id == family))

    @staticmethod
    def _read(connection: sa.Connection, row: rows.Row) -> model.Family:
        member = schema.family_member
        query = sa.select(member).where(member.c.family == row["id"]).order_by(member.c.position)
        members = tuple(
            model.FamilyMember(m["reference"], m["descent"], m["after"] or "", m["note"])
            for m in connection.execute(query).mappings()
        )
        return model.Family(row["id"], members, row["note"])


def _check(
    connection: sa.Connection, members: Sequence[model.FamilyMember], whole: Sequence[model.FamilyMember]
) -> None:
    names = [m.reference for m in members]
    if len(set(names)) != len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise RecordRefused(f"{twice!r} is named twice in one family.", "Name each reference once.")
    if len(whole) < 2:
        raise RecordRefused("A family has at least two references.", "Name the other one too.")
    _known(connection, set(names))
    ids = {m.reference for m in whole}
    for member in whole:
        if member.descent not in model.DESCENTS:
            raise RecordRefused(
                f"{member.reference!r} cannot descend as {member.descent!r}.", f"Use: {', '.join(model.DESCENTS)}."
            )
        if member.after and member.after not in ids:
            raise RecordRefused(
                f"{member.reference!r} is said to come from {member.after!r}, which is not in the family.",
                "Name that one as a member too.",
                records=(member.reference, member.after),
            )
    after = {m.reference: m.after for m in whole}
    for start in after:
        seen, here = {start}, after[start]
        while here:
            if here in seen:
                raise RecordRefused(f"The descent of {start!r} goes in a circle.", "Say which of them came first.")
            seen.add(here)
            here = after.get(here, "")


def _known(connection: sa.Connection, references: set[str]) -> None:
    table = schema.reference
    held = set(connection.execute(sa.select(table.c.id).where(table.c.id.in_(references))).scalars())
    for missing in sorted(references - held):
        raise UnknownRecord(
            f"There is no reference {missing!r}.", "refarchive list shows them all.", records=(missing,)
        )
