"""Commands on exchange: references out of an archive."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("out", type=click.Path(path_type=Path, file_okay=False))
@click.option("--scene", default="", metavar="SLUG", help="Only what that scene uses.")
@click.option("--base", default="", metavar="ADDRESS", help="Where the folder will lie on the web, if it will.")
@json_option
def export(archive: Path, out: Path, scene: str, base: str, as_json: bool) -> None:
    """Write references with originals into the new folder OUT.

    As a CSV sheet, as JSON-LD with Dublin Core terms, and pictures as a IIIF manifest with their details as
    annotations. Each can be gathered again. Rights go along as recorded; nothing is held back for them.
    """
    with opened_archive(archive) as opened:
        done = opened.exchange.write(out, scene=scene, base=base, progress=True)

    def lines() -> Iterator[str]:
        yield f"{done.references} references, {done.details} details, {done.files} files: {done.folder}"
        yield f"{done.in_manifest} pictures are in the manifest; texts and objects cannot stand in one."
        for one in done.missing:
            yield f"The original of {one} is missing: refarchive verify says more."

    answer(as_json, done.as_dict(), lines)
