"""Commands on rights: what is recorded, and pictures made ready to be published."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("references", nargs=-1)
@click.option(
    "--set", "words", metavar="URI-OR-WORDS", help="The rights: 'CC BY 4.0', 'in copyright', a URI, or words."
)
@click.option("--basis", metavar="TEXT", help="Why it may be published: a permission, a licence, an expired term.")
@click.option("--evidence", metavar="TEXT", help="Where that can be read: a letter, a page, a file.")
@click.option("--credit", metavar="TEXT", help="The credit line, as it was asked for; it is printed as given.")
@json_option
def rights(
    archive: Path,
    references: tuple[str, ...],
    words: str | None,
    basis: str | None,
    evidence: str | None,
    credit: str | None,
    as_json: bool,
) -> None:
    """Show or record rights, and what each reference may be used for.

    Of all references, or those named. An empty text takes a value away.
    """
    said = {"rights": words, "basis": basis, "evidence": evidence, "credit": credit}
    setting = any(value is not None for value in said.values())
    if setting and not references:
        raise click.UsageError("Name the references whose rights these are.")
    with opened_archive(archive) as opened:
        if setting:
            names = [one.id for one in opened.exchange.set_rights(references, **said)]
        elif references:
            names = [opened.reference(name).id for name in references]
        else:
            names = [one.id for one in opened.references()]
        found = [opened.exchange.rights(name) for name in names]

    def lines() -> Iterator[str]:
        for one in found:
            yield f"{one['reference']}  {one['title']}"
            yield f"    {one['statement']}"
            for use, words in one["uses"].items():
                yield f"    {use.capitalize()}: {words}."
            if one["credit_line"]:
                yield f"    Credit line: {one['credit_line']}"
        if found:
            yield found[0]["caution"]

    answer(as_json, {"references": found}, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("out", type=click.Path(path_type=Path, file_okay=False))
@click.option("--leave-out", is_flag=True, help="Leave out what has no basis, and say so, instead of refusing.")
@json_option
def press(archive: Path, scene: str, out: Path, leave_out: bool, as_json: bool) -> None:
    """Write a scene's pictures for publication.

    Into the new folder OUT, with captions, credit lines, rights and the basis of each. A picture that has no basis to
    be published on is refused by name, and nothing is written.
    """
    with opened_archive(archive) as opened:
        done = opened.exchange.publish_references(scene, out, leave_out=leave_out, progress=True)
    document = done.as_dict()

    def lines() -> Iterator[str]:
        yield f"{len(document['pictures'])} pictures, with captions: {document['folder']}"
        for one in document["conditions"]:
            yield f"{one['reference']}: only with {'; '.join(one['only_with'])}."
        for one in document["left_out"]:
            yield f"Left out: {one['reference']} lacks {' and '.join(one['lacks'])}."
        if document["no_picture"]:
            yield f"No picture to write: {', '.join(document['no_picture'])}."
        yield document["caution"]

    answer(as_json, document, lines)
