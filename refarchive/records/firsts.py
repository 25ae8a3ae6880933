"""A first date: before when a thing cannot have been there, as a published source has it."""

from __future__ import annotations

from dataclasses import dataclass

from refarchive.records.model import When


@dataclass(frozen=True)
class First:
    """One row of a table of first dates. It can put a question to a scene; it never settles one.

    At least one of the three dates is there, each with a known beginning. `weak` marks a row whose source is from
    memory or second-rate; `note` says what contradicts it, and which second source agrees.
    """

    thing: str
    also: tuple[str, ...] = ()  # other names of it
    invented: When | None = None
    on_sale: When | None = None
    common: When | None = None  # in wider use
    region: str = ""  # where the dates hold
    source: str = ""
    weak: bool = False
    note: str = ""
    table: str = ""  # file the row stands in
    line: int = 0  # there, from 1
