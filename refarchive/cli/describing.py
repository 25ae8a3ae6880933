"""Commands on what is said of a reference: describe it, see where it is used, follow a claim, work off its debts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("reference")
@click.option("--title")
@click.option("--creator", help="Who made it.")
@click.option("--date", help="When it was made: '1871-02', 'early 1780s', 'Michaelmas 1869', '3 March 1640 O.S.'")
@click.option("--depicts", help="The date of what it shows, where that is another.")
@click.option("--place")
@click.option("--source", help="Where this copy comes from.")
@click.option("--rights")
@click.option("--description")
@click.option("--witness", help="What kind of evidence it is, for instance 'photograph from life'.")
@click.option("--save", is_flag=True, help="Keep it. Without this, only say what was understood and what would change.")
@json_option
def describe(archive: Path, reference: str, save: bool, as_json: bool, **said: str | None) -> None:
    """Say something of a REFERENCE: its date, its maker, its witness.

    Shows what was understood and every need of every scene that would stand otherwise; --save keeps it.
    """
    given = {name: value for name, value in said.items() if value is not None}
    if not given:
        raise click.UsageError("Say what to change, for instance --date 'early 1780s'.")
    with opened_archive(archive) as opened:
        document = {**opened.evidence.preview(reference, **given), "saved": save}
        if save:
            opened.describe(reference, **given)

    def lines() -> Iterator[str]:
        for name, sentence in document["understood"].items():
            yield f"{name}: {sentence}"
        yield from _effects(document["effects"], "now stands" if save else "would stand")
        yield "Kept." if save else "Nothing is kept yet: add --save."

    answer(as_json, document, lines)


def _effects(effects: list[dict[str, Any]], stands: str) -> Iterator[str]:
    for effect in effects:
        yield f"{effect['scene']}, {effect['need_name']} {stands} otherwise:"
        for change in effect["changes"]:
            yield f"   {change['what']}: {change['before']} → {change['after']}"
    if not effects:
        yield f"No need of any scene {stands} otherwise."


@cli.command()
@folder_argument
@click.argument("reference")
@json_option
def uses(archive: Path, reference: str, as_json: bool) -> None:
    """Say where a REFERENCE is used, and under which number."""
    with opened_archive(archive) as opened:
        document = opened.evidence.uses(reference)

    def lines() -> Iterator[str]:
        yield f"{document['title']}  {document['reference']}"
        for use in document["uses"]:
            through = "" if use["through"] == document["reference"] else " (through its family)"
            what = f"{use['department']}, {use['need_name']}" if use["need"] else "the scene as a whole"
            note = f": {use['note']}" if use["note"] else ""
            yield f"   {use['scene']}: {use['number']}, {use['role']}, {what}{through}{note}"
        if not document["uses"]:
            yield "   No scene uses it."

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("need")
@json_option
def claim(archive: Path, scene: str, need: str, as_json: bool) -> None:
    """Say what one NEED of a SCENE stands on, down to the detail."""
    with opened_archive(archive) as opened:
        document = opened.evidence.claim(scene, need)

    def lines() -> Iterator[str]:
        yield f"{document['department']}: {document['need_name']}"
        for one in document["evidence"]:
            yield f"   {one['number']} {one['relation']} it: {one['title']} ({one['witness']})"
            yield from (f"      {line}" for line in _particulars(one))
        if not document["evidence"]:
            yield "   It stands on nothing yet."

    answer(as_json, document, lines)


def _particulars(one: Mapping[str, Any]) -> Iterator[str]:
    if one["detail"]:
        yield "marked region " + ", ".join(f"{value:g}" for value in one["detail"]["region"])
    if one["passage"]:
        yield f"passage {one['passage']['number']}: “{' '.join(one['passage']['text'].split())}”"
    if one["note"]:
        yield one["note"]
    if one["fit"]:
        yield "fit: " + ", ".join(f"{aspect} {word}" for aspect, word in one["fit"].items())
    for other in one["family"]:
        yield f"of one family with {other['title']}"


@cli.command()
@folder_argument
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Also write them as a CSV to fill in.")
@click.option("--filled", type=click.Path(path_type=Path, dir_okay=False), help="Take in that CSV, filled in.")
@json_option
def debts(archive: Path, sheet: Path | None, filled: Path | None, as_json: bool) -> None:
    """List what is missing of each reference, most pressing first.

    Those come first that a need stands on alone. Write them with --sheet, fill in the cells, and give the file with
    --filled.
    """
    with opened_archive(archive) as opened:
        done = opened.evidence.fill(filled) if filled is not None else None
        owed = opened.evidence.debts()
        if sheet is not None:
            opened.evidence.write_debts(sheet)

    def lines() -> Iterator[str]:
        if done is not None:
            yield f"{done['changed']} references changed, {done['unchanged']} rows as they were."
            for one in done["refused"]:
                yield f"Refused: {one['source']}: {one['problem']} {one['next_step']}".rstrip()
        for debt in owed:
            yield f"{debt['reference']}  {debt['title']}: {', '.join(debt['missing'])}"
            for stand in debt["alone"]:
                yield f"   {stand['scene']}, {stand['need']} stands on it alone"
            if others := len(debt["holds_up"]) - len(debt["alone"]):
                yield f"   evidence for {others} other need{'' if others == 1 else 's'}"
        yield f"{len(owed)} references with something missing."
        if sheet is not None:
            yield f"Sheet to fill in: {sheet}"

    document = {"debts": owed, "filled": done, "sheet": str(sheet) if sheet else None}
    answer(as_json, document, lines)


@cli.command(name="take-out")
@folder_argument
@click.argument("names", nargs=-1, required=True)
@click.option("--detail", "what", flag_value="detail", help="NAMES are ids of marked details.")
@click.option("--scene", "what", flag_value="scene", help="NAMES are scenes.")
@json_option
def take_out(archive: Path, names: tuple[str, ...], what: str | None, as_json: bool) -> None:
    """Take references out, by id or file name; or marked details, or scenes.

    What a scene or a family stands on is refused, with all that was named beside it. The history keeps what was said,
    originals stay on the disk.
    """
    with opened_archive(archive) as opened:
        desk = opened.evidence
        by_kind = {None: desk.take_out, "detail": desk.take_out_detail, "scene": desk.take_out_scene}
        gone = by_kind[what](*names)

    def lines() -> Iterator[str]:
        for one in gone:
            yield f"Taken out: {one['title'] or one['id']}"
        if what is None:
            yield "Originals stay on the disk. A file that is gathered again comes in anew: move it out of its folder."

    answer(as_json, {"taken_out": gone}, lines)
