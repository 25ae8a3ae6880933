"""Commands after the shoot: frames taken in, work prints, the wall, and the decision."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from refarchive.cli.answering import ONLY_WHOLE, answer, cli, folder_argument, json_option, opened_archive

CRITERIA = ("story", "gesture", "light", "series")


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@json_option
def shoot(archive: Path, scene: str, sources: tuple[Path, ...], as_json: bool) -> None:
    """Take the frames of a shoot in: folders, or files.

    JPEG, TIFF or raw with a preview. They are measured against each other, and grouped by time and likeness.
    """
    with opened_archive(archive) as opened:
        done = opened.after.take(scene, *sources, progress=True)
        opened.after.measure(scene, progress=True)
        document = {**done.as_dict(), **opened.after.shoot(scene)}

    def lines() -> Iterator[str]:
        yield f"{len(document['added'])} added, {document['unchanged']} there already."
        yield from _groups(document)
        yield from (f"Left where it is, beside its picture: {one}" for one in document["beside"])
        yield from (f"Refused: {one['source']}: {one['problem']} {one['next_step']}" for one in document["refused"])

    answer(as_json, document, lines)


def _groups(document: dict[str, Any]) -> Iterator[str]:
    by_id = {one["id"]: one for one in document["frames"]}
    for number, group in enumerate(document["groups"], start=1):
        yield f"{number}. {group['words']}"
        for name in group["frames"]:
            yield f"   {by_id[name]['name']:24} {by_id[name]['taken_words']}"
            yield from (f"      {one}" for one in by_id[name]["words"])


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frames", nargs=-1)
@click.option("--on-sheet", type=click.Choice(["1", "2", "4"]), default="1", help="Pictures on an A4 sheet.")
@click.option("--paper", default="", help="The paper, as you call it.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=None, help="Folder to write into.")
@json_option
def prints(
    archive: Path, scene: str, frames: tuple[str, ...], on_sheet: str, paper: str, out: Path | None, as_json: bool
) -> None:
    """Tell sizes of work prints; with --out, make the sheets.

    Of the frames named, or of all. What is made is kept as printed today.
    """
    kept = "No sheet was written, and none is kept as printed. Give the same command again."
    with opened_archive(archive, kept) as opened:
        told = opened.after.print_sizes(scene, frames, int(on_sheet))
        made = None
        if out is not None:
            count = int(on_sheet)
            made = opened.after.print_frames(scene, frames, count=count, paper=paper, out=out, progress=True)
    document = {"sizes": told, "pdf": str(made.pdf) if made else None}

    def lines() -> Iterator[str]:
        yield from told
        if made is not None:
            yield f"{made.words} {made.pdf}"

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.option("--by", "criterion", type=click.Choice(CRITERIA), default=None, help="Only how they stand by this.")
@click.option(
    "--sittings", type=click.Path(path_type=Path, dir_okay=False), default=None, help="Take in sittings from a CSV."
)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=None, help="Folder for the pages.")
@json_option
def wall(
    archive: Path, scene: str, criterion: str | None, sittings: Path | None, out: Path | None, as_json: bool
) -> None:
    """Say what hangs, and how the frames of a scene stand.

    With --out, write the wall to scale and an index of all frames as PDF.
    """
    pages = []
    with opened_archive(archive, ONLY_WHOLE) as opened:
        after = opened.after
        added = after.read_sittings(scene, sittings) if sittings is not None else 0
        frames = after.shoot(scene)
        hanging = after.walls(scene)
        stands = {one: after.standing(scene, one) for one in ([criterion] if criterion else CRITERIA)}
        decided = after.decisions_told(scene)
        sat = after.sittings_told(scene)
        heard = after.heard(scene)
        if out is not None:
            pages.append(str(after.print_index(scene, out=out, progress=True).pdf))
            if hanging:
                pages.append(str(after.print_wall(scene, out=out).pdf))
    document = {
        "frames": frames["frames"],
        "groups": frames["groups"],
        "judgements_added": added,
        "walls": hanging,
        "sittings": sat,
        "heard": heard,
        "standing": stands,
        "decisions": decided,
        "pages": pages,
    }

    def lines() -> Iterator[str]:
        if sittings is not None:
            yield f"{added} judgements taken in."
        yield f"{len(frames['frames'])} frames in {len(frames['groups'])} groups."
        yield from (one["words"] for one in hanging[-1:])
        yield from (f"   {problem}" for one in hanging[-1:] for problem in one["problems"])
        yield from sat
        for name, one in stands.items():
            yield f"By {name}: {one['words']}"
            for key in ("ahead", "cycles", "drift", "consistency", "others"):
                yield from (f"   {words}" for words in one[key])
        yield from (f"From outside: {one}" for one in heard)
        for one in decided:
            yield f"Decided {one['words']}"
            yield from (f"   not {words}" for words in one["turned_down"])
        yield from (f"Written: {page}" for page in pages)

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame")
@click.argument("sentence")
@click.option("--not", "turned_down", multiple=True, metavar="FRAME=WHY", help="A frame turned down, and why.")
@json_option
def decide(archive: Path, scene: str, frame: str, sentence: str, turned_down: tuple[str, ...], as_json: bool) -> None:
    """Keep your sentence for a frame, and what was turned down."""
    down = {}
    for one in turned_down:
        name, mark, why = one.partition("=")
        if not mark or not name:
            raise click.UsageError(f"--not {one!r} names no frame and reason: write FRAME=WHY.")
        down[name] = why
    with opened_archive(archive) as opened:
        opened.after.decide(scene, frame, sentence, turned_down=down)
        document = {"decisions": opened.after.decisions_told(scene)}
    answer(as_json, document, lambda: iter([document["decisions"][0]["words"]]))
