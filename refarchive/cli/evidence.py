"""Commands on evidence: what a scene rests on, families, subjects, debts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

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
            for asked in sorted(need["anachronisms"], key=lambda one: one["how"] != "by name"):
                yield f"{'':17}   Question ({asked['how']}, {asked['where']}): {asked['question']}"
            for asked in need["answered"]:
                said = asked["answer"]
                yield f"{'':17}   Answered, {asked['thing']}: {said['says']}. {said['note']}".rstrip()
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
    """List first dates, all or those that mention WORDS.

    Of the table that ships, and of not_before.csv in ARCHIVE.
    """
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


@cli.command()
@folder_argument
@click.argument("code", required=False, default="")
@click.option("--suggest", "words", default="", metavar="WORDS", help="Propose notations for these words.")
@click.option("--of", default="", metavar="REFERENCE", help="Propose notations for what is said of this reference.")
@click.option("--assign", default="", metavar="REFERENCE", help="Give this reference the notation CODE as a subject.")
@click.option("--top", default=10, show_default=True, type=click.IntRange(1, 100), help="How many are proposed.")
@json_option
def subjects(archive: Path, code: str, words: str, of: str, assign: str, top: int, as_json: bool) -> None:
    """Browse Iconclass, propose notations, assign one.

    From CODE, or from the main classes. A notation is written 25F72, 25F23(LION) or 25F(+46). The number after each
    says how many references it finds.
    """
    if sum(map(bool, (code, words, of))) > 1:
        raise click.UsageError("Give a CODE, or --suggest, or --of: one of them.")
    if assign and not code:
        raise click.UsageError("--assign needs the CODE to give.")
    document: dict[str, Any]
    with opened_archive(archive) as opened:
        if words or of:
            document = {"suggestions": opened.evidence.suggest_subjects(words, of=of, top=top)}
        elif assign:
            given = opened.evidence.assign_subject(assign, code)
            document = {"reference": given.id, "title": given.title, "subjects": list(given.subjects)}
        elif code:
            document = opened.evidence.subject(code)
        else:
            document = {"children": opened.evidence.browse()}

    def row(one: dict[str, Any], deep: int = 0) -> str:
        return f"{'  ' * deep}{one['code']}  {one['text']}" + (f"  [{one['references']}]" if one["references"] else "")

    def lines() -> Iterator[str]:
        if assign:
            yield f"{document['title']}: {'; '.join(document['subjects'])}"
            return
        for one in document.get("suggestions", ()):
            yield f"{one['code']}  {one['text']}"
            yield f"     {one['because']} Under {' > '.join(one['path'][-2:]) or 'nothing'}."
        if document.get("suggestions") == []:
            yield "Iconclass knows none of these words. Try others, or browse."
        path = document.get("path", [])
        yield from (row(one, deep) for deep, one in enumerate(path))
        if "code" in document:
            yield row(document, len(path))
        yield from (row(one, len(path) + bool(path or "code" in document)) for one in document.get("children", ()))
        if document.get("keys"):
            yield "More exactly, with a key:"
            yield from (row(one, 1) for one in document["keys"])
        if document.get("related"):
            yield "See also:"
            yield from (row(one, 1) for one in document["related"])
        for one in document.get("held_by", ()):
            yield f"{one['reference']}  {one['title']}: {'; '.join(one['subjects'])}"

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.option("--confirm", multiple=True, metavar="REFERENCE=DESCENT", help="A member and how it descends; give two.")
@click.option("--after", multiple=True, metavar="REFERENCE=REFERENCE", help="Which member a member came from.")
@click.option("--not-family", multiple=True, metavar="A,B", help="Two references that are not of one family.")
@click.option("--leave", multiple=True, metavar="REFERENCE", help="Take a reference out of its family.")
@click.option("--note", default="", help="A note to be kept with --not-family.")
@click.option("--new", "only_new", is_flag=True, help="Propose only what touches pictures not looked at before.")
@json_option
def families(
    archive: Path,
    confirm: tuple[str, ...],
    after: tuple[str, ...],
    not_family: tuple[str, ...],
    leave: tuple[str, ...],
    note: str,
    only_new: bool,
    as_json: bool,
) -> None:
    """List families, and pictures that may be copies.

    Confirm with --confirm what belongs together; --not-family says what does not. A family counts as one witness.
    Descents: original, copy, crop, mirrored, recoloured, engraved after, photographed from, unknown. Where a file name
    holds a comma or an equals sign, give the reference's id.
    """
    if after and not confirm:
        raise click.UsageError("--after says where a confirmed member came from: give --confirm too.")
    members = dict(_two("--confirm", one, "=") for one in confirm)
    came = dict(_two("--after", one, "=") for one in after)
    if len(members) < len(confirm) or len(came) < len(after):
        raise click.UsageError("A reference is named twice.")
    apart = [_two("--not-family", one, ",") for one in not_family]
    with opened_archive(archive) as opened:
        for name in leave:
            opened.evidence.leave_family(name)
        for one, other in apart:
            opened.evidence.turn_down_family(one, other, note)
        if members:
            opened.evidence.confirm_family(members, after=came)
        document: dict[str, Any] = {"families": opened.evidence.family_documents()}
        if not (leave or apart or members):
            document |= opened.evidence.propose_families(progress=True, only_new=only_new).as_dict()

    def lines() -> Iterator[str]:
        for family in document["families"]:
            yield f"{family['family']}:"
            for member in family["members"]:
                came_from = f" after {member['after']}" if member["after"] else ""
                yield f"   {member['reference']}  {member['title']}: {member['descent']}{came_from}"
        yield f"{len(document['families'])} confirmed. A family counts as one witness."
        if "proposals" not in document:
            return
        for group in document["groups"]:
            yield "Of one family?"
            for member, title in zip(group["members"], group["titles"], strict=True):
                came_from = f" after {member['after']}" if member["after"] else ""
                yield f"   {member['reference']}  {title}: {member['descent']}{came_from}"
            for pair in group["proposals"]:
                yield f"   First {pair['titles'][0]!r}, second {pair['titles'][1]!r}: {pair['kind']}."
                yield f"      {pair['sentence']} {pair['reasons']}"
            for pair in group["apart"]:
                yield f"   You told apart: {', '.join(pair)}."
        yield f"{len(document['proposals'])} pairs proposed, none confirmed. What is not proposed may still be a copy."
        for one in document["unread"]:
            yield f"Not looked at, its original cannot be read: {one}"

    answer(as_json, document, lines)


def _two(option: str, value: str, mark: str) -> tuple[str, str]:
    one, found, other = value.partition(mark)
    if not found or not one.strip() or not other.strip() or mark in other:
        raise click.UsageError(f"{option} takes two parts with one {mark!r} between them, not {value!r}.")
    return one.strip(), other.strip()
