"""Commands of the main job: gather, find, plan, print, check, and upkeep."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import (
    ONLY_WHOLE,
    answer,
    as_json_text,
    cli,
    folder_argument,
    json_option,
    opened_archive,
    region_value,
    visible_text,
)

ENCODERS = "built-in, openclip:MODEL:WEIGHTS (a pretrained tag or a checkpoint file), or auto"


@cli.command()
@click.argument("archive")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--encoder", default="auto", show_default=True, help=f"How pictures are compared: {ENCODERS}.")
@click.option("--files", type=click.Path(path_type=Path), help="Shared: the folder with originals, as mounted here.")
@click.option("--join", is_flag=True, help="Shared: the archive is there already; make a folder of your own for it.")
@json_option
def new(archive: str, folder: Path | None, encoder: str, files: Path | None, join: bool, as_json: bool) -> None:
    """Make an archive in the folder ARCHIVE.

    Where ARCHIVE is postgresql://HOST/DATABASE, the records go into that database, which several people may share, and
    FOLDER is your own folder for it, named like the database where left out. Every other command takes FOLDER. No
    password belongs into the address: keep it in ~/.pgpass. Originals lie in FOLDER, or in the folder that --files
    names and everybody mounts.
    """
    import refarchive
    from refarchive.archive.asked import database_named

    shared = database_named(archive)
    if not shared and (folder or files or join):
        raise click.UsageError("FOLDER, --files and --join are for an ARCHIVE at postgresql://HOST/DATABASE.")
    place = folder or Path(shared or archive)
    if join:
        made = refarchive.join(place, archive, files=files or "")
    else:
        made = refarchive.create(place, encoder, database=archive if shared else "", files=files or "")
    try:
        document = {"archive": str(place), "encoder": {"name": made.encoder_name, "why": made.encoder_why}}
        answer(
            as_json,
            document,
            lambda: iter(
                [
                    f"Joined the shared archive; your folder is {place}." if join else f"Archive made at {place}.",
                    f"Encoder: {made.encoder_name}. {made.encoder_why}",
                ]
            ),
        )
    finally:
        made.close()


@cli.command()
@folder_argument
@click.argument("sources", nargs=-1, type=click.Path(path_type=Path))
@click.option("--sheet", type=click.Path(path_type=Path), help="CSV with what is known of each file; see --columns.")
@click.option("--columns", is_flag=True, help="Say which columns a sheet may have, and stop.")
@click.option(
    "--column",
    "said",
    multiple=True,
    metavar="THEIRS=OURS",
    help="What a column of another name holds: 'Artist=creator'; 'Shelf=' leaves it out. Remembered for such sheets.",
)
@click.option("--forget-columns", is_flag=True, help="Forget what was said with --column before.")
@click.option("--fetch", is_flag=True, help="Fetch pictures that a IIIF manifest has on the web.")
@click.option(
    "--fetch-from",
    "hosts",
    multiple=True,
    metavar="HOST[:PORT]",
    help="Fetch also from this private host; again for more.",
)
@json_option
def gather(
    archive: Path,
    sources: tuple[Path, ...],
    sheet: Path | None,
    columns: bool,
    said: tuple[str, ...],
    forget_columns: bool,
    fetch: bool,
    hosts: tuple[str, ...],
    as_json: bool,
) -> None:
    """Take pictures, texts and object records into ARCHIVE.

    SOURCES are folders and files: JPEG, PNG, TIFF, WebP, GIF, HEIC, plain text, Markdown, PDF (page by page), and IIIF
    manifests (version 3) or JSON-LD with the pictures in their folder. A sheet alone gathers the files it names. Giving
    the same command again goes on where it stopped and opens nothing that has not changed.
    """
    from refarchive.archive.telling import sheet_columns

    if columns:
        answer(as_json, sheet_columns(), lambda: (f"{k:12} {v}" for k, v in sheet_columns().items()))
        return
    if not sources and sheet is None and not forget_columns:
        raise click.UsageError("Name at least one folder or file, or a sheet.")
    pairs = [_mapped(text) for text in said]
    mapping = dict(pairs)
    if any(mapping[theirs] != ours for theirs, ours in pairs):
        raise click.UsageError("--column says two things of one column.")
    if mapping and sheet is None:
        raise click.UsageError("--column says what a column of a sheet holds: name the sheet with --sheet.")
    with opened_archive(archive) as opened:
        if forget_columns:
            opened.forget_columns()
        report = opened.gather(*sources, sheet=sheet, columns=mapping, fetch=hosts or fetch, progress=True)

    def lines() -> Iterator[str]:
        yield f"{report.added} added, {report.unchanged} unchanged, {report.revised} revised from the sheet."
        if report.details:
            yield f"{report.details} details marked."
        for one in report.duplicates:
            yield f"Same file: {one['source']} is {one['reference']} ({one['title']}) already."
        for one in report.refused:
            yield f"Refused: {one['source']}: {one['problem']} {one['next_step']}".rstrip()
        yield from report.notices

    answer(as_json, report.as_dict(), lines)


@cli.command(name="list")
@folder_argument
@click.option("--kind", type=click.Choice(["image", "text", "object"]))
@json_option
def list_(archive: Path, kind: str | None, as_json: bool) -> None:
    """List the references, and what is missing of each."""
    with opened_archive(archive) as opened:
        found = [r for r in opened.references() if kind in (None, r.kind)]
        document = {"references": [opened.summary(r) for r in found]}

    def lines() -> Iterator[str]:
        for r in found:
            missing = f"   missing: {', '.join(r.missing)}" if r.missing else ""
            yield f"{r.id}  {r.kind:6}  {(r.when.text if r.when else 'undated'):14}  {r.title}{missing}"
        yield f"{len(found)} references."

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("words", required=False, default="")
@click.option("--like", type=click.Path(path_type=Path), help="A picture file, or a reference's id or file name.")
@click.option("--region", callback=region_value, metavar="X,Y,W,H", help="Part of that picture, as fractions.")
@click.option("--colour", metavar="HEX", help="A colour as #rrggbb.")
@click.option("--when", metavar="EDTF", help="A period: 1871, 186X, 1868/1874, or words such as 'early 1870s'.")
@click.option("--kind", type=click.Choice(["image", "text", "object"]))
@click.option("--witness", help="A kind of witness, for instance 'surviving object'.")
@click.option("--place", help="Part of a place name.")
@click.option("--rights", help="Part of a rights statement.")
@click.option("--subject", help="A subject of the reference; a notation of Iconclass finds all beneath it.")
@click.option("--wider", default=0, type=click.IntRange(0), metavar="N", help="Take the subject N levels higher.")
@click.option("--scene", metavar="SLUG", help="Only what is evidence in that scene.")
@click.option("--more-like", multiple=True, metavar="REFERENCE", help="More like this one; may be given again.")
@click.option("--less-like", multiple=True, metavar="REFERENCE", help="Less like this one; may be given again.")
@click.option("--beyond-period", is_flag=True, help="Show what lies outside the period too, last, saying how far.")
@click.option("--top", default=20, show_default=True, type=click.IntRange(1, 1000))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Also write the answer as an HTML sheet.")
@json_option
def find(
    archive: Path,
    words: str,
    like: Path | None,
    region: tuple[float, float, float, float] | None,
    colour: str | None,
    when: str | None,
    more_like: tuple[str, ...],
    less_like: tuple[str, ...],
    beyond_period: bool,
    wider: int,
    top: int,
    out: Path | None,
    as_json: bool,
    **narrow: str | None,
) -> None:
    """Find references by words, likeness, colour or period.

    Each answer says why it is there: the place that each way of looking gave it.
    """
    if region is not None and like is None:
        raise click.UsageError("--region is a part of a picture: name the picture with --like.")
    if wider and not narrow["subject"]:
        raise click.UsageError("--wider takes a subject higher: name the subject with --subject.")
    with opened_archive(archive) as opened:
        found = opened.find(
            words,
            like=like,
            region=region,
            colour=colour,
            when=when,
            more=more_like,
            less=less_like,
            beyond_period=beyond_period,
            wider=wider,
            top=top,
            **{key: value or "" for key, value in narrow.items()},
        )
        document = opened.findings_document(found)
        if out is not None:
            asked = ", ".join(part for part in (words, f"like {like}" if like else "", colour, when) if part)
            document["sheet"] = str(opened.print_findings(found, out, question=asked))

    def lines() -> Iterator[str]:
        for hit in document["hits"]:
            known = f"{hit['date_shown']}; {hit['witness']}"
            yield f"{hit['rank']:3}  {hit['title']}  ({known})  {hit['reference']}"
            yield "     " + "; ".join(f"{b['source']}: {b['rank']}" for b in hit["because"])
            if hit["outside_period"]:
                yield f"     Outside the period: {hit['outside_period']}."
            yield from (f"     Caution: {sentence}" for sentence in hit["cautions"])
        yield from document["notes"]
        if not document["hits"]:
            yield "Nothing found."
        if out is not None:
            yield f"Sheet: {document['sheet']}"

    answer(as_json, document, lines)


@cli.command()
@folder_argument
@click.argument("plan", type=click.Path(path_type=Path))
@json_option
def scene(archive: Path, plan: Path, as_json: bool) -> None:
    """Add the scene planned in a TOML file, or revise it."""
    with opened_archive(archive) as opened:
        saved = opened.read_scene(plan)
        document = opened.scene_summary(saved)
    answer(
        as_json,
        document,
        lambda: iter(
            [
                f"Scene {saved.slug!r}, {saved.title}: revision {saved.revision}.",
                f"{document['needs']} needs, {document['without_evidence']} of them without evidence.",
            ]
        ),
    )


@cli.command()
@folder_argument
@click.option("--show", metavar="SLUG", help="Print one scene's plan as TOML.")
@json_option
def scenes(archive: Path, show: str | None, as_json: bool) -> None:
    """List the scenes of ARCHIVE."""
    with opened_archive(archive) as opened:
        if show is not None:
            text = opened.plan_text(show)
            if as_json:
                click.echo(as_json_text({"scene": show, "plan": text}, indent=None))
            elif sys.stdout.isatty():
                click.echo("\n".join(map(visible_text, text.splitlines())))
            else:
                click.echo(text, nl=False)
            return
        found = [opened.scene_summary(one) for one in opened.scenes()]

    def lines() -> Iterator[str]:
        for one in found:
            yield f"{one['slug']:24}  {one['date'] or 'undated':12}  {one['title']}  ({one['needs']} needs)"
        if not found:
            yield "No scenes yet. Add one with: refarchive scene ARCHIVE FILE.toml"

    answer(as_json, {"scenes": found}, lines)


@cli.command()
@folder_argument
@click.argument("scene")
@click.option(
    "--for", "department", help="One department's copy: wardrobe, props, hair and make-up, set, light, effects."
)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder to write into; the present one.")
@json_option
def dossier(archive: Path, scene: str, department: str | None, out: Path | None, as_json: bool) -> None:
    """Print a scene's dossier as a PDF and one HTML file."""
    with opened_archive(archive, ONLY_WHOLE) as opened:
        written = opened.dossier(scene, department=department, out=out, progress=True)
    document = {"pdf": str(written.pdf), "html": str(written.html), "pages": written.pages}
    answer(
        as_json,
        document,
        lambda: iter([f"{written.pages} pages: {written.pdf}", f"The same on screen: {written.html}"]),
    )


@cli.command()
@folder_argument
@click.argument("scene")
@click.argument("frame", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Report to write, .html or .pdf.")
@click.option(
    "--need",
    "needs",
    multiple=True,
    metavar="NEED=WORD",
    help="What you see: NEED=present, absent or hidden; may be given again, and is kept.",
)
@click.option(
    "--departure",
    "departures",
    multiple=True,
    metavar="NAME=REASON",
    help="A measure (palette, key, contrast…) or need departed from on purpose, with the reason; kept.",
)
@click.option("--linear", type=click.Path(path_type=Path), help="The frame's raw file or linear TIFF, for stops.")
@click.option(
    "--mark",
    "marks",
    multiple=True,
    metavar="NAME=X,Y,W,H",
    help="A region to measure: light (a head, a ball), lit and shadow (of one surface), edge (of a shadow), "
    "figure:NAME; kept.",
)
@json_option
def check(
    archive: Path,
    scene: str,
    frame: Path,
    out: Path | None,
    needs: tuple[str, ...],
    departures: tuple[str, ...],
    marks: tuple[str, ...],
    linear: Path | None,
    as_json: bool,
) -> None:
    """Check a frame against its scene's intent and references."""
    said = [_said(text, "--need") for text in needs]
    meant = [_said(text, "--departure") for text in departures]
    regions = {name: _four(value) for name, value in (_said(text, "--mark") for text in marks)}
    kept = "The frame and what you said of it are kept, once it was read; no check is. Give the same command again."
    with opened_archive(archive, kept) as opened:
        checked = opened.check(
            scene,
            frame,
            needs=dict(said),
            departures=dict(meant),
            regions=regions,
            linear=linear,
            out=out,
            progress=True,
        )

    def lines() -> Iterator[str]:
        for line in checked.lines:
            yield f"{line.verdict:18}  {opened.line_words(line)}"
            if line.remedy:
                yield f"{'':18}  {line.remedy}"
        for fact in checked.studied.told:
            yield f"{fact.name:18}  {fact.words}"
        if checked.report is not None:
            yield f"Report: {checked.report}"

    answer(as_json, checked.as_dict(), lines)


def _four(text: str) -> tuple[float, float, float, float]:
    try:
        x, y, width, height = (float(part) for part in text.split(","))
    except ValueError:
        raise click.UsageError(f"--mark takes NAME=X,Y,W,H, four numbers from 0 to 1, not {text!r}.") from None
    return x, y, width, height


def _mapped(text: str) -> tuple[str, str]:
    theirs, equals, ours = text.partition("=")
    if not equals or not theirs.strip():
        raise click.UsageError(f"--column takes THEIRS=OURS, not {text!r}.")
    return theirs.strip(), ours.strip()


def _said(text: str, option: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name.strip() or not value.strip():
        raise click.UsageError(f"{option} takes NAME=WORDS, not {text!r}.")
    return name.strip(), value.strip()


@cli.command()
@folder_argument
@click.option("--encoder", required=True, help=f"{ENCODERS}.")
@json_option
def reencode(archive: Path, encoder: str, as_json: bool) -> None:
    """Make all vectors anew with another encoder.

    References and scenes stay as they are. Finding goes on with the old vectors until all new ones are made.
    """
    kept = "The vectors made so far are kept, and the old ones in use; give the same command again to go on."
    with opened_archive(archive, kept) as opened:
        done = opened.reencode(encoder, progress=True)
    answer(as_json, done, lambda: iter([f"{done['pictures']} pictures encoded anew with {done['encoder']['name']}."]))


@cli.command()
@folder_argument
@json_option
def trust(archive: Path, as_json: bool) -> None:
    """Measure how far the encoder can be trusted here.

    On this archive's own captioned pictures: how often the right caption comes first, and a piece finds its whole.
    """
    kept = "Nothing is kept of a measurement that was not finished; the same command begins it anew."
    with opened_archive(archive, kept) as opened:
        found = opened.trust(progress=True)

    def lines() -> Iterator[str]:
        yield f"Encoder {found.encoder}, on {found.pictures} pictures, {found.captioned} of them with a caption."
        yield from found.sentences

    answer(as_json, found.as_dict(), lines)


@cli.command()
@folder_argument
@click.option("--repair", is_flag=True, help="Make anew what can be made, and put copies of originals back.")
@click.option(
    "--from",
    "sources",
    multiple=True,
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="Folder in which copies of damaged originals are looked for; may be given several times.",
)
@json_option
def verify(archive: Path, repair: bool, sources: tuple[Path, ...], as_json: bool) -> None:
    """Check originals against digests, the database against itself, caches against records."""
    kept = "What was mended so far is kept; the same command, within two days, goes on after the originals read so far."
    with opened_archive(archive, kept) as opened:
        done = opened.verify(repair=repair, sources=sources, progress=True)

    def lines() -> Iterator[str]:
        yield f"{done.originals} originals, {done.previews_made} previews and {done.vectors_made} vectors made anew."
        if done.originals_restored:
            yield f"{done.originals_restored} originals put back from copies."
        yield from done.notices
        yield from done.problems
        if not done.problems:
            yield "Nothing wrong was found."

    answer(as_json, done.as_dict(), lines)
    if done.problems:
        raise click.exceptions.Exit(1)


@cli.command()
@folder_argument
@click.argument("record", required=False)
@click.option("--last", default=50, show_default=True, type=click.IntRange(1, 100_000))
@json_option
def history(archive: Path, record: str | None, last: int, as_json: bool) -> None:
    """Say who changed what, when.

    Of one RECORD where named: reference:ID or scene:SLUG.
    """
    with opened_archive(archive) as opened:
        changes = opened.history(record, limit=last)
    document = {
        "changes": [
            {"at": c.at, "who": c.who, "action": c.action, "record": c.record, "before": c.before, "after": c.after}
            for c in changes
        ]
    }
    answer(as_json, document, lambda: (f"{c.at}  {c.who}  {c.action:8} {c.record}" for c in changes))


@cli.command()
@click.argument("folder", required=False, default="refarchive-demo", type=click.Path(path_type=Path))
@json_option
def demo(folder: Path, as_json: bool) -> None:
    """Build the sample archive and do the whole job once.

    Into FOLDER: it gathers, finds, prints a dossier, checks frames, and says where everything is.
    """
    from refarchive.demo import run_demo

    done = run_demo(folder, progress=True)
    answer(as_json, done, lambda: iter(done["told"]))


@cli.command()
@click.argument("folder", required=False, default="refarchive-notebooks", type=click.Path(path_type=Path))
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def lab(folder: Path, no_browser: bool) -> None:
    """Open JupyterLab on the notebooks, copied into FOLDER.

    Files that are there already are left alone.
    """
    from refarchive.demo import open_lab

    raise click.exceptions.Exit(open_lab(folder, browser=not no_browser))
