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
            for asked in need["anachronisms"]:
                yield f"{'':17}   Question ({asked['how']}, {asked['where']}): {asked['question']}"
            for words in need["later_words"]:
                yield f"{'':17}   Later: {words}"
            for one in need["nearest"]:
                yield f"{'':17}   Nearest: {one['title']} ({one['date'] or 'undated'}; {one['witness']})"
        yield "A family counts as one witness."
        yield document["silence"]
        yield from document["notices"]
        if figure is not None:
            yield f"Figure: {figure}"

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("words", nargs=-1)
@json_option
def firsts(archive: Path, words: tuple[str, ...], as_json: bool) -> None:
    """List first dates, all or those that mention WORDS: of the table that ships, and of not_before.csv in ARCHIVE."""
    with opened_archive(archive) as opened:
        document = opened.evidence.first_dates(" ".join(words))

    def lines() -> Iterator[str]:
        for row in document["rows"]:
            dates = [(row["invented"], "not before"), (row["on_sale"], "on sale"), (row["common"], "common")]
            told = "; ".join(f"{word} {date}" for date, word in dates if date)
            region = f" ({row['region']})" if row["region"] else ""
            source = "Source (weak)" if row["weak"] else "Source"
            yield f"{row['thing']}: {told}{region}. {source}: {row['source'].rstrip('.')}."
            if row["also"]:
                yield f"   Also: {'; '.join(row['also'])}"
            if row["note"]:
                yield f"   {row['note']}"
            yield f"   {row['table']}, line {row['line']}"
        if not document["rows"]:
            yield "No row mentions that. That says what the tables hold, not what there was."
        for problem in document["problems"]:
            yield f"{problem['source']}: {problem['problem']} {problem['next_step']}"
        yield from document["notices"]

    answer(as_json, document, lines)
