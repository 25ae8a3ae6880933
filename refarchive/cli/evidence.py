"""Commands on evidence: what a scene rests on, families, subjects, debts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("scene")
@json_option
def coverage(archive: Path, scene: str, as_json: bool) -> None:
    """Say what each need of a scene rests on."""
    with opened_archive(archive) as opened:
        document = opened.evidence.coverage(scene)

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

    answer(as_json, document, lines)
