"""An archive as one file: pack and unpack."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option


@cli.command()
@folder_argument
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--no-caches", is_flag=True, help="Leave previews and vectors out; they can be made anew.")
@json_option
def pack(archive: Path, file: Path, no_caches: bool, as_json: bool) -> None:
    """Pack ARCHIVE into the one new FILE, to keep or to move.

    A plain tar file with the SHA-256 of everything in it, which any tar program reads; name it NAME.tar. The archive
    may be in use meanwhile. Giving the same command again goes on where it stopped.
    """
    from refarchive.archive.packs import pack as packing

    done = packing(archive, file, caches=not no_caches, progress=True)

    def lines() -> Iterator[str]:
        for name, share in sorted(done.shares.items()):
            yield f"{name:10} {share.files:8} files {share.bytes / 1e6:12,.1f} MB"
        yield f"Packed: {done.file}, {done.bytes / 1e6:,.1f} MB."
        if done.went_on:
            yield f"{done.went_on / 1e6:,.1f} MB of it stood there from an earlier run."
        yield f"Its digest: {done.digest}"
        yield from done.left_out
        yield from done.problems

    answer(as_json, done.as_dict(), lines)
    if done.problems:
        raise click.exceptions.Exit(1)


@cli.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("archive", required=False, type=click.Path(path_type=Path))
@click.option("--check", is_flag=True, help="Only verify every byte of FILE; unpack nothing.")
@json_option
def unpack(file: Path, archive: Path | None, check: bool, as_json: bool) -> None:
    """Unpack FILE into the new folder ARCHIVE.

    All of it, each file verified by its SHA-256, or nothing. Giving the same command again goes on where it stopped.
    """
    from refarchive.archive.packs import look_into
    from refarchive.archive.packs import unpack as unpacking

    if check == (archive is not None):
        raise click.UsageError("Name the new folder ARCHIVE, or give --check without one.")
    if archive is None:
        held = look_into(file, progress=True)
        document = {**held.head, "files": len(held.members), "bytes": held.size, "digest": held.digest}
        answer(
            as_json,
            document,
            lambda: iter(
                [f"Whole: {len(held.members)} files, {held.size / 1e6:,.1f} MB.", f"Its digest: {held.digest}"]
            ),
        )
        return
    done = unpacking(file, archive, progress=True)

    def lines() -> Iterator[str]:
        yield f"Unpacked: {done.archive}, {done.files} files, {done.bytes / 1e6:,.1f} MB."
        if done.went_on:
            yield f"{done.went_on / 1e6:,.1f} MB of it stood there from an earlier run."
        yield f"The pack's digest: {done.digest}"
        yield from done.told

    answer(as_json, done.as_dict(), lines)
