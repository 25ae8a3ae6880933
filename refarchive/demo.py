"""The demo and the notebooks: the sample archive built from what ships with the package, all of it invented."""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import refarchive
from refarchive.archive import Archive
from refarchive.errors import ArchiveInTheWay, UnknownRecord

SCENE = "first-light"
QUESTION = "women with baskets going out over the wet sand before dawn"
PERIOD = "1868/1874"
WITH_BALL = ("first-light-ball.jpg", "first-light-fooled.jpg")
BALL = (0.4433, 0.45, 0.0934, 0.14)  # where the grey ball is, in the frames that hold one


def shipped(name: str) -> Path:
    """A folder that ships with the package: "sample_refs" or "notebooks", in a clone as well as installed.

    Raises UnknownRecord where it is in neither place.
    """
    package = Path(refarchive.__file__).parent
    for place in (package.parent / name, package / name):
        if place.is_dir() and any(place.iterdir()):
            return place
    raise UnknownRecord(f"This installation has no {name}.", "Install refarchive from a full clone.")


def run_demo(folder: Path, *, progress: bool = False) -> dict[str, Any]:
    """Build the sample archive in `folder`, find, print a dossier, check frames; say where everything is.

    Run again, it goes on where it stopped. Raises ArchiveInTheWay where `folder` holds something else.
    """
    samples = shipped("sample_refs")
    place = folder / "archive"
    if folder.exists() and not place.exists() and any(folder.iterdir()):
        raise ArchiveInTheWay(
            f"There is something in {str(folder)!r} already.", "Name a new folder: refarchive demo NAME"
        )
    folder.mkdir(parents=True, exist_ok=True)
    fresh = not (place / "archive.sqlite").exists()
    with refarchive.create(place, "auto") if fresh else refarchive.open(place) as archive:
        return _show(archive, folder, samples, progress)


def _show(archive: Archive, folder: Path, samples: Path, progress: bool) -> dict[str, Any]:
    report = archive.gather(sheet=samples / "references.csv", progress=progress)
    scenes = [archive.read_scene(plan) for plan in sorted((samples / "scenes").glob("*.toml"))]
    families = _families(archive)
    found = archive.find(QUESTION, when=PERIOD, top=12)
    find_json = folder / "find.json"
    find_json.write_text(json.dumps(archive.findings_document(found), ensure_ascii=False, indent=2), encoding="utf-8")
    find_html = archive.print_findings(found, folder / "find.html", question=f"{QUESTION}, {PERIOD}")
    written = archive.dossier(SCENE, out=folder / "dossier")
    wardrobe = archive.dossier(SCENE, department="wardrobe", out=folder / "dossier")
    coverage = archive.evidence.coverage(SCENE)
    figure = archive.evidence.draw_coverage(SCENE, folder / "coverage.png")
    checks = []
    for frame in sorted((samples / "frames").glob(f"{SCENE}-*.jpg")):
        regions = {"light": BALL} if frame.name in WITH_BALL else {}
        checked = archive.check(SCENE, frame, regions=regions, out=folder / "check" / f"{frame.stem}.html")
        checks.append({"frame": frame.name, "report": str(checked.report), "lines": checked.as_dict()["lines"]})
    printed = archive.check(SCENE, samples / "frames" / checks[0]["frame"], out=folder / "check" / f"{SCENE}-01.pdf")
    after = _after_the_shoot(archive, folder, progress)
    first = checks[0]
    against_intent = [line for line in first["lines"] if line["against"] == "intent" and line["measure"] != "need"]
    told = [
        "Everything in this demo is invented: the village of Merrow Sands, its people, pictures and papers.",
        f"Gathered: {report.added} added, {report.unchanged} unchanged, {len(report.refused)} refused. "
        f"Encoder: {archive.encoder_name}.",
        *(f"Refused: {one['source']}: {one['problem']}" for one in report.refused),
        *(f"One family, so one witness: {'; '.join(titles)}." for titles in families),
        f"Asked: {QUESTION!r}, {PERIOD}",
        *(f"  {hit.rank}. {hit.reference.title}" for hit in found.hits[:5]),
        *_coverage_told(coverage),
        f"Checked {first['frame']}: "
        + "; ".join(f"{line['measure']} {line['verdict']}" for line in against_intent)
        + ".",
        *(f"Light on the grey ball in {name}: {said}." for name, said in _light_told(checks)),
        *after["told"],
        "",
        f"Archive           {archive.folder}",
        f"Find result       {find_html}",
        f"Dossier           {written.pdf}  ({written.pages} pages)",
        f"  on screen       {written.html}",
        f"  wardrobe's copy {wardrobe.pdf}  ({wardrobe.pages} pages)",
        f"Coverage          {figure}",
        f"Check reports     {folder / 'check'}  ({len(checks)} frames)",
        f"  one on paper    {printed.report}",
        *(f"{name:17} {path}" for name, path in after["files"].items()),
        "",
        f'Next: refarchive find {archive.folder} "lantern"   or   refarchive lab',
    ]
    return {
        "archive": str(archive.folder),
        "gather": report.as_dict(),
        "scenes": [scene.slug for scene in scenes],
        "find": {"json": str(find_json), "html": str(find_html)},
        "families": families,
        "coverage": {"figure": str(figure), **coverage},
        "dossier": {"pdf": str(written.pdf), "html": str(written.html), "wardrobe": str(wardrobe.pdf)},
        "check": checks,
        "check_pdf": str(printed.report),
        "after": {key: after[key] for key in ("files", "left_out", "standing")},
        "told": told,
    }


def _after_the_shoot(archive: Archive, folder: Path, progress: bool) -> dict[str, Any]:
    """What came after the shoots of the samples; the wall, the series, and a final file with its pages."""
    hang_samples(archive, progress=progress)
    wall, final = folder / "wall", folder / "final"
    frame = archive.publishing.frame(SCENE)
    standing = archive.after.standing(SCENE, "story")
    put_out = final / f"{Path(archive.frame_work.name(SCENE, frame)).stem}-public.jpg"
    left_out: list[str] = []
    if not put_out.exists():
        left_out = list(archive.publishing.write(SCENE, frame, out=final).left_out)
    files = {
        "Index of frames": archive.after.print_index(SCENE, out=wall).pdf,
        "The wall, to scale": archive.after.print_wall(SCENE, out=wall).pdf,
        "The series": archive.series.print_page(out=wall).pdf,
        "Final file": put_out,
        "  caption and note": archive.publishing.print_pages(SCENE, frame, out=final).pdf,
    }
    if not archive.after.prints_told(SCENE):
        made = archive.after.print_frames(SCENE, [frame], count=1, paper="matt, 230 g (invented)", out=wall)
        files["Work print"] = made.pdf
    decided = archive.after.decisions_told(SCENE)[0]
    told = [
        f"Sittings: {standing['words'].partition(' Nothing is ahead')[0]}",
        f"Decided by the photographer, not by the tool: {decided['words']}",
        *(f"Left out of the public file: {one}" for one in left_out),
    ]
    return {
        "files": {name: str(path) for name, path in files.items()},
        "told": told,
        "left_out": left_out,
        "standing": {key: standing[key] for key in ("counted", "ahead", "cycles", "consistency")},
    }


def _families(archive: Archive) -> list[list[str]]:
    """Confirm the families that the samples were drawn as, from what the archive proposes; titles of all families."""
    for group in archive.evidence.propose_families().groups:
        members = {member.reference: member.descent for member in group.members}
        after = {member.reference: member.after for member in group.members if member.after}
        archive.evidence.confirm_family(members, after=after)
    return [[archive.reference(m.reference).title for m in family.members] for family in archive.evidence.families()]


def _light_told(checks: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """What the frames with a ball in them say of the light: the figure and the word, or that it cannot be told."""
    told = []
    for check in checks:
        line = next((one for one in check["lines"] if one["measure"] == "light"), None)
        if line is not None and check["frame"] in WITH_BALL:
            figure = "" if line["frame"] is None else f"{line['frame']:.0f}°, intended {line['target']:.0f}°, "
            told.append((check["frame"], f"{figure}{line['verdict']}"))
    return told


def _coverage_told(coverage: dict[str, Any]) -> list[str]:
    """What a scene rests on in four lines."""
    needs = coverage["needs"]
    asked = [question for need in needs for question in need["anachronisms"] if question["how"] == "by name"]
    return [
        f"Of {len(needs)} needs, nothing supports: {'; '.join(n['name'] for n in needs if n['gap']) or 'none'}.",
        f"Something speaks against: {'; '.join(n['name'] for n in needs if n['contradicted_by']) or 'none'}.",
        *(f"Question: {question['question']}" for question in asked[:1]),
    ]


def sample_archive(folder: Path | str = "merrow-archive") -> Archive:
    """The sample archive at `folder`, made there with its references and scenes the first time; all of it invented."""
    place = Path(folder)
    if (place / "archive.sqlite").exists():
        return refarchive.open(place)
    archive = refarchive.create(place, "auto")
    archive.gather(sheet=shipped("sample_refs") / "references.csv")
    for plan in sorted((shipped("sample_refs") / "scenes").glob("*.toml")):
        archive.read_scene(plan)
    return archive


def sample_wall(folder: Path | str = "merrow-archive", *, progress: bool = False) -> Archive:
    """The sample archive with what came after its shoots: frames, a month of simulated sittings, walls, decisions, and
    what goes out. All of it invented; what is there already is left alone.
    """
    archive = sample_archive(folder)
    hang_samples(archive, progress=progress)
    return archive


def hang_samples(archive: Archive, *, progress: bool = False) -> None:
    """Take shoots, sittings, viewers' words, walls, decisions and particulars of the samples into an archive."""
    samples = shipped("sample_refs")
    for scene in archive.scenes():
        shoot = samples / "frames" / "shoot" / scene.slug
        if shoot.is_dir():
            archive.after.take(scene.slug, shoot, progress=progress)
            archive.after.measure(scene.slug, progress=progress)
            archive.after.read_sittings(scene.slug, samples / "sittings.csv")
    _viewers(archive, samples / "viewers.csv")
    _walls(archive, samples / "walls.csv")
    _decided(archive, samples / "finished.toml")


def _sheet(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _viewers(archive: Archive, sheet: Path) -> None:
    heard = {scene.slug: archive.after.heard(scene.slug) for scene in archive.scenes()}
    for row in _sheet(sheet):
        if not heard.get(row["scene"]):
            archive.frame_work.view(row["scene"], row["frame"], row["words"], viewer=row["viewer"])


def _walls(archive: Archive, sheet: Path) -> None:
    """Arrangements, a row a picture; finished pictures are named by the file name of their frame."""
    kept = {scene.slug: archive.after.walls(scene.slug) for scene in archive.scenes()}
    frames = {f.source_name: f.id for scene in archive.scenes() for f in archive.frames(scene.slug)}
    walls: dict[tuple[str, ...], list[dict[str, str]]] = {}
    for row in _sheet(sheet):
        key = (row["scene"], row["wall"], row["day"], row["wall_width_mm"], row["wall_height_mm"])
        walls.setdefault(key, []).append(row)
    for (slug, wall, day, width, height), rows in walls.items():
        if kept.get(slug):
            continue
        hung = [
            {
                "frame": frames[row["frame"]],
                "finished": row["finished"] == "yes",
                **{key: float(row[key]) for key in ("x_mm", "y_mm", "width_mm", "height_mm")},
            }
            for row in rows
        ]
        archive.after.hang(
            slug, hung=hung, wall=wall, width_mm=float(width), height_mm=float(height), at=f"{day}T17:00:00+00:00"
        )


def _decided(archive: Archive, plan: Path) -> None:
    told = tomllib.loads(plan.read_text(encoding="utf-8"))
    for one in told["picture"]:
        slug, frame = one["scene"], one["frame"]
        if archive.publishing.frame(slug):
            continue
        at = f"{one['day']}T18:00:00+00:00"
        archive.after.decide(slug, frame, one["sentence"], turned_down=one["turned_down"], at=at)
        archive.publishing.say(slug, frame, {**told["all"], **one["says"]})
    order = told["order"]
    if not any(order["note"] in words for words in archive.series.in_order()["told"]):
        ids = {one["scene"]: one["id"] for one in archive.series.in_order()["pictures"]}
        archive.series.keep_order("", [ids[slug] for slug in order["scenes"]], order["note"])


def copy_notebooks(folder: Path) -> list[Path]:
    """Copy the notebooks into `folder`; one that is there already is left alone. Returns where they are."""
    folder.mkdir(parents=True, exist_ok=True)
    copied = []
    for notebook in sorted(shipped("notebooks").glob("*.ipynb")):
        goal = folder / notebook.name
        if not goal.exists():
            shutil.copyfile(notebook, goal)
        copied.append(goal)
    return copied


def open_lab(folder: Path, *, browser: bool = True) -> int:
    """Open JupyterLab on the notebooks, copied into `folder`; returns its exit status when it ends."""
    copied = copy_notebooks(folder)
    start = copied[0].name if copied else ""
    command = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}",
        f"--LabApp.default_url=/lab/tree/{start}",
    ]  # fmt: skip
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    return subprocess.call(command)
