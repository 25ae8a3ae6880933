"""Commands on a series and on what goes out: order, statement, captions, the final file with its metadata."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import ONLY_WHOLE, answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("name", default="")
@click.option(
    "--try", "tried", nargs=2, default=None, metavar="SCENE FRAME", help="How a frame would sit at each place."
)
@click.option("--propose", metavar="ORDER", default=None, help="smooth, contrasting, by key, by date of event.")
@click.option("--by", "measure", default="", metavar="MEASURE", help="The one measure to order by: palette, key …")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=None, help="Folder for the page.")
@click.option(
    "--manifest", "base", default=None, metavar="URL", help="With --out: files and IIIF manifest for this address."
)
@json_option
def series(
    archive: Path,
    name: str,
    tried: tuple[str, str] | None,
    propose: str | None,
    measure: str,
    out: Path | None,
    base: str | None,
    as_json: bool,
) -> None:
    """Say how the finished pictures of a series sit together.

    In order, with what neighbours repeat and where they part. Other orders are proposed by one criterion, as figures;
    nothing is chosen.
    """
    written = []
    with opened_archive(archive, ONLY_WHOLE) as opened:
        document = opened.series.document(name, progress=True)
        document["try"] = opened.series.sit(*tried, progress=True) if tried else None
        document["proposed"] = opened.series.propose(name, propose, measure) if propose else None
        if out is not None:
            written.append(str(opened.series.print_page(name, candidate=tried, out=out, progress=True).pdf))
            if base is not None:
                opened.publishing.write_series(name, out / "iiif", base=base, progress=True)
                written.append(str(out / "iiif" / "manifest.json"))
    document["written"] = written

    def lines() -> Iterator[str]:
        for number, one in enumerate(document["pictures"], start=1):
            yield f"{number}. {one['title']} ({one['name']})"
        for pair in document["neighbours"]:
            yield f"{pair['first']} | {pair['second']}: {pair['words']}"
        yield from (f"{one['measure'].capitalize()}: {one['told']}" for one in document["rhythm"])
        yield from document["told"]
        if document["try"]:
            yield document["try"]["words"]
            for seat in document["try"]["seats"]:
                yield f"   {seat['where']}:"
                yield from (f"      {seat[side]['words']}" for side in ("before", "after") if side in seat)
        if document["proposed"]:
            yield from document["proposed"]["words"]
        yield from (f"Written: {one}" for one in written)

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame", default="")
@click.option(
    "--final", type=click.Path(path_type=Path, dir_okay=False), default=None, help="The finished JPEG or TIFF."
)
@click.option("--private", is_flag=True, help="With everything; the public version leaves coordinates and names out.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=None, help="Folder to write into.")
@json_option
def publish(
    archive: Path, scene: str, frame: str, final: Path | None, private: bool, out: Path | None, as_json: bool
) -> None:
    """Say what goes out with a picture; with --out, write it.

    Of the frame named, or the one decided for: caption and note as drafted, what each rests on, permissions, editions.
    With --out: a copy of the final file with its metadata, and the pages.
    """
    written = []
    with opened_archive(archive, ONLY_WHOLE) as opened:
        name = frame or opened.publishing.frame(scene)
        if not name:
            raise click.UsageError("No frame was decided for in this scene: name one.")
        document = opened.publishing.document(scene, name)
        if out is not None:
            done = opened.publishing.write(scene, name, final=final, public=not private, out=out, progress=True)
            written = [str(done.file), str(opened.publishing.print_pages(scene, name, out=out, progress=True).pdf)]
            document["left_out"] = list(done.left_out)
    document["written"] = written

    def lines() -> Iterator[str]:
        yield document["name"]
        yield document["values"]["caption"] or f"No caption is kept. Drafted: {document['caption']['text']}"
        yield document["values"]["note"] or f"No note is kept. Drafted: {document['note']['text']}"
        yield from document["statement"]
        yield from document["missing"]
        yield document["checklist"]["summary"]
        yield from document["checklist"]["open"]
        yield document["checklist"]["caution"]
        yield from document["editions"]["told"]
        yield from (f"Left out of the public version: {one}" for one in document.get("left_out", ()))
        yield from (f"Written: {one}" for one in written)

    answer(as_json, document, lines)
