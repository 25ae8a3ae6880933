"""Commands on frames over time: several at once, a part against a detail, what viewers said."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive, region_value

Four = tuple[float, float, float, float]


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frames", nargs=-1, required=True, type=click.Path(path_type=Path))
@json_option
def frames(archive: Path, scene: str, frames: tuple[Path, ...], as_json: bool) -> None:
    """Check several frames against the intent, a row each."""
    kept = "The checks that were finished are kept; give the same command again."
    with opened_archive(archive, kept) as opened:
        rows = opened.frame_work.several(scene, frames, progress=True)

    def lines() -> Iterator[str]:
        for row in rows:
            told = "; ".join(f"{name} {one['verdict']}" for name, one in row["measures"].items())
            yield f"{row['frame']:28}  {told}"
        yield "No row is a mark, and none is best: the figures say how far each is from what was meant."

    answer(as_json, {"frames": rows}, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame", type=click.Path(path_type=Path))
@click.argument("reference")
@click.option("--region", callback=region_value, required=True, metavar="X,Y,W,H", help="Part of the frame.")
@click.option("--detail", callback=region_value, metavar="X,Y,W,H", help="Part of the reference; else the whole.")
@json_option
def compare(
    archive: Path, scene: str, frame: Path, reference: str, region: Four, detail: Four | None, as_json: bool
) -> None:
    """Compare a part of a frame with a reference's detail."""
    with opened_archive(archive) as opened:
        found = opened.frame_work.compare(scene, frame, region, reference, detail)

    def lines() -> Iterator[str]:
        for line in found:
            yield f"{line.verdict:18}  {opened.line_words(line)}"
            yield f"{'':18}  {line.note}"

    answer(as_json, {"lines": [line.as_dict() for line in found]}, lines)


@cli.command()
@folder_argument
@click.argument("picture", type=click.Path(path_type=Path))
@click.option("--corners", required=True, metavar="X,Y,…", help="By dark skin, bluish green, black, white: 8 numbers.")
@click.option("--edition", required=True, help="'before November 2014' or 'after November 2014', from its back.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="PNG with the fitted correction.")
@json_option
def chart(archive: Path, picture: Path, corners: str, edition: str, out: Path | None, as_json: bool) -> None:
    """Hold a 24-patch chart in a picture against its colours."""
    try:
        numbers = [float(part) for part in corners.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != 8:
        raise click.UsageError(f"--corners takes eight numbers from 0 to 1 with commas between, not {corners!r}.")
    with opened_archive(archive) as opened:
        found = opened.frame_work.chart(picture, list(zip(numbers[::2], numbers[1::2], strict=True)), edition, out=out)

    def lines() -> Iterator[str]:
        yield found["sentence"]
        for patch in found["patches"]:
            lost = "  clipped" if patch["clipped"] else ""
            yield f"   {patch['name']:24} {patch['hex']}  {patch['difference']:5.1f} ΔE00{lost}"
        if found["corrected"]:
            yield f"Corrected: {found['corrected']}. It shows what the matrix does; develop the raw file for the print."

    answer(as_json, found, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame")
@click.argument("words")
@click.option("--viewer", default="", help="A name or a number.")
@click.option("--seconds", type=float, help="How long they looked.")
@click.option("--print-size", default="", metavar="SIZE", help="A4, A6, screen.")
@json_option
def view(
    archive: Path,
    scene: str,
    frame: str,
    words: str,
    viewer: str,
    seconds: float | None,
    print_size: str,
    as_json: bool,
) -> None:
    """Keep what a viewer said of a frame, seen without text.

    Show it for a few seconds, ask what is happening, and write down their WORDS as they say them.
    """
    with opened_archive(archive) as opened:
        kept = opened.frame_work.view(scene, frame, words, viewer=viewer, seconds=seconds, print_size=print_size)
    answer(as_json, vars(kept), lambda: iter([f"Kept, {kept.at}."]))


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame")
@click.option("--machine", is_flag=True, help="Also the encoder's reading, with its trust.")
@json_option
def viewings(archive: Path, scene: str, frame: str, machine: bool, as_json: bool) -> None:
    """Hold what viewers said against the scene's sentences."""
    with opened_archive(archive) as opened:
        document = opened.frame_work.viewings(scene, frame)
        if machine:
            document["machine"] = opened.frame_work.machine_reading(scene, frame)

    def lines() -> Iterator[str]:
        yield (
            f"{document['viewers']} viewers: {document['understood']} said what was meant, {document['misread']} a "
            f"misreading, {document['neither']} neither."
        )
        for one in document["sentences"]:
            yield f"   {one['viewers']:3}  {one['kind']:11} {one['sentence']}"
        for size, (understood, misread, neither) in document["by_size"].items():
            yield f"   at {size or 'no size given'}: {understood} meant, {misread} misread, {neither} neither"
        for one in document["said"]:
            yield f"   “{one['words']}” {one['kind'] or 'neither'}"
        if machine:
            yield document["machine"]["sentence"]

    answer(as_json, document, lines)
