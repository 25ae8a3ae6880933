"""Commands on evidence: what a scene rests on, families, subjects, debts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("scene")
@click.option("--figure", type=click.Path(path_type=Path, dir_okay=False), help="Also draw it: .png, .svg or .pdf.")
@json_option
def coverage(archive: Path, scene: str, figure: Path | None, as_json: bool) -> None:
    """Say what each need of a scene rests on."""
    with opened_archive(archive) as opened:
        document = opened.evidence.coverage(scene)
        if figure is not None:
            document["figure"] = str(opened.evidence.draw_coverage(scene, figure))

    def lines() -> Iterator[str]:
        for need in document["needs"]:
            kinds = ", ".join(f"{count} {kind}" for kind, count in need["by_kind"].items()) or "nothing"
            yield f"{need['department']:17} {need['name']}: {kinds}."
            yield f"{'':17}   {need['what_would_change']}"
            if need["contradicted_by"]:
                yield f"{'':17}   Contradicted by {len(need['contradicted_by'])}."
            for one in need["nearest"]:
                yield f"{'':17}   Nearest: {one['title']} ({one['date'] or 'undated'}; {one['witness']})"
        yield "A family counts as one witness. Silence is never a clearance."
        if figure is not None:
            yield f"Figure: {figure}"

    answer(as_json, document, lines)
