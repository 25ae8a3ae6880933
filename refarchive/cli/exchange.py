"""References out of the archive, for another archive to take in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("out", type=click.Path(path_type=Path, file_okay=False))
@click.option("--scene", metavar="SLUG", help="Only what is evidence in that scene.")
@click.option("--previews", is_flag=True, help="Write smaller pictures in place of the originals.")
@json_option
def export(archive: Path, out: Path, scene: str | None, previews: bool, as_json: bool) -> None:
    """Write references into the new folder OUT, for another archive.

    As a CSV sheet, as JSON-LD with Dublin Core terms, as a IIIF manifest, and with their files. Each of the three tells
    everything: gather the folder, or give the sheet with --sheet. This is no publication: see press.
    """
    with opened_archive(archive) as opened:
        done = opened.exchange.write(out, scene=scene, originals=not previews, progress=True)

    def lines() -> Iterator[str]:
        yield f"{done.references} references, {len(done.files)} files, {done.details} details: {done.folder}"
        yield from done.notices
        yield done.as_dict()["caution"]

    answer(as_json, done.as_dict(), lines)
