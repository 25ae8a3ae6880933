# ruff: noqa: E501 (a table)
"""Every function that parses a file or a text from outside: what, its bounds, how it refuses, what fuzzes it.

`test_parsers.py` holds the package to it: a parsing library called outside `ROOMS` fails, and so does a parser without
a target. Sizes are bytes of the file, unless said otherwise; what has no size of its own is bounded by whoever hands
it on, who is named.
"""

from __future__ import annotations

from typing import NamedTuple


class Parser(NamedTuple):
    """One function: dotted below the package, what it reads, its bounds, its named error ("" for: never raises)."""

    function: str
    reads: str
    bound: str
    error: str
    targets: tuple[str, ...]


_PICTURES = ("jpeg", "png", "tiff", "webp", "gif", "heic")

PARSERS: tuple[Parser, ...] = (
    Parser("records.bounded.read_bounded", "any file", "a regular file, of the size that the caller states", "", ("kept",)),
    Parser("records.files.picture_size", "a picture's head", "200 megapixels, 50,000 on a side; TIFF: 1.6 GB of samples, four channels, no more than the file can hold", "SourceRefused", _PICTURES),
    Parser("records.files.open_picture", "a picture", "as its head; ICC profiles of 16 MB", "SourceRefused", _PICTURES),
    Parser("records.preview_sums.state", "a preview's checksum", "32 MB", "", ("kept",)),
    Parser("records.preview_sums.fits", "a preview without one", "Pillow's limits, 1,600 pixels on a side", "", ("kept",)),
    Parser("jobs.references.thumbnails.thumbnail", "a preview", "1,600 pixels on a side", "ArchiveDamaged", ("kept",)),
    Parser("sources.metadata.read_metadata", "EXIF, IPTC and XMP of a picture", "2,000 characters a value; XMP of 1 MB; Pillow's decompression limits of chunks", "", _PICTURES),
    Parser("sources.shot.read_shot", "a camera's file", "500 MB; 200 megapixels, 50,000 on a side", "SourceRefused", (*_PICTURES, "raw")),
    Parser("sources.shot.shot_picture", "a camera's file", "as read_shot; its preview 64 MB", "SourceRefused", (*_PICTURES, "raw")),
    Parser("sources.linear.open_linear", "a raw file or linear TIFF", "500 MB; 200 megapixels; TIFF: 800 MB of samples; raw above 40 megapixels at half its size", "SourceRefused", ("raw", "linear")),
    Parser("sources.sheet.read_sheet", "CSV of provenance", "50 MB; 200,000 rows, 200 columns; 100,000 characters a cell", "SheetRefused", ("sheet",)),
    Parser("sources.firsts.read_firsts", "CSV of first dates", "2 MB; 5,000 rows, 30 names of one thing", "SheetRefused", ("firsts",)),
    Parser("jobs.references.filling._rows", "a filled CSV of debts", "50 MB; 200,000 rows; 100,000 characters a cell", "SheetRefused", ("filled",)),
    Parser("jobs.choosing.sittings._rows", "CSV of sittings", "5 MB; the csv module's 131,072 characters a cell", "SheetRefused", ("filled",)),
    Parser("sources.described.read_json", "JSON", "50 MB; 60 deep", "SourceRefused", ("manifest", "linked")),
    Parser("sources.manifest.read_manifest", "a IIIF manifest", "as read_json; 20,000 canvases, 1,000 details of one", "SourceRefused", ("manifest",)),
    Parser("sources.linked.read_linked", "JSON-LD", "as read_json; 20,000 records", "SourceRefused", ("linked",)),
    Parser("sources.described.without_markup", "markup in a value", "the value's, 100,000 characters", "", ("address", "manifest")),
    Parser("sources.fetching._parts", "an address", "the value's, 100,000 characters; only http and https, to public hosts", "SourceRefused", ("address",)),
    Parser("sources.passages.read_text_noticed", "a text", "20 MB", "SourceRefused", ("text",)),
    Parser("sources.pdf_apart.read_pdf", "a PDF, in a process apart", "300 MB; 500 pages; 2 GB of memory; 60 s and 200,000 signs a page", "SourceRefused", ("pdf",)),
    Parser("sources.folder.walk", "names of files and folders", "64 folders deep; 255 characters shown of a name", "", ("names",)),
    Parser("scenes.plan.read_plan", "a plan in TOML", "1,000,000 characters; 4,000 a value, 500 entries a list", "PlanRefused", ("plan",)),
    Parser("scenes.places.Places", "the outline of a plan", "the plan's; 30 parts of a dotted name", "", ("plan",)),
    Parser("scenes.linking.with_entry", "a plan that was read before", "the plan's", "", ("plan",)),
    Parser("records.dates.understood", "a date, EDTF or in words", "200 characters; years to 999,999,999", "BadDate", ("dates",)),
    Parser("site.pasted.read_constituents", "a pasted table of tides", "50,000 characters, 500 rows", "SiteRefused", ("pasted",)),
    Parser("search.words.match_words", "words to be found", "20,000 characters, 200 terms; every one in quotation marks for FTS5", "", ("words",)),
    Parser("records.fragments.region_in", "a region in an address", "four numbers", "", ("short",)),
    Parser("looks.colour.hex_to_lab", "a colour", "six digits", "CannotMeasure", ("short",)),
    Parser("looks.munsell.chip_lab", "a chip's name", "a short pattern", "CannotMeasure", ("short",)),
    Parser("records.rights.canonical_uri", "an address of rights", "a table of known ones", "", ("short",)),
    Parser("subjects.tree.notation", "a notation of Iconclass", "a short pattern", "", ("short",)),
    Parser("site.clocks.zone_of", "a time zone's name", "names of the zone database", "SiteRefused", ("short",)),
    Parser("publish.embed.embed", "a finished JPEG or TIFF", "2 GB; 10,000 segments; 1,000 directories, 100,000 entries, 2,000,000 strips", "PublishRefused", ("finished",)),
    Parser("publish.iim.data_sets", "IIM", "16 MB; 100,000 data sets", "PublishRefused", ("blocks", "finished")),
    Parser("publish.iim.resources", "image resources", "16 MB; 20,000 resources", "PublishRefused", ("blocks", "finished")),
    Parser("publish.tiff_tags.read", "TIFF directories, EXIF", "as embed", "PublishRefused", ("blocks", "finished")),
    Parser("publish.xmp.packet", "old XMP", "4 MB; elements 100 deep; no entities, no document type", "PublishRefused", ("blocks", "finished")),
    Parser("paper.shown.measured", "a picture or drawing to be printed", "60 megapixels; SVG of 4 MB, without references", "CannotPrint", ("printed",)),
    Parser("paper.print_pictures.ready", "a picture to be printed", "400 MB; 120 megapixels, 30,000 on a side; ICC profiles of 4 MB", "CannotPrint", ("printed",)),
    Parser("search.vectors.opened", "a folder of vectors", "head 1 MB, keys and sums 4 GB; 1,048,576 values a row; rows are mapped", "ArchiveDamaged", ("vectors",)),
    Parser("search.lists.Lists.from_bytes", "lists of vectors", "as large as its head says, no larger", "", ("kept",)),
    Parser("search.vector_folder.VectorFolder.level_at", "a note of what is level", "1 MB", "", ("kept",)),
    Parser("looks.signatures.Signature.from_bytes", "a picture's signature", "20 MB; 65,535 features of a kind, unpacked to what its head says", "CannotMeasure", ("signature",)),
    Parser("jobs.references.signatures.Pairs", "pairs of originals", "1 GB", "", ("pairs",)),
    Parser("records.tally.read", "the tally beside the records", "10 MB", "", ("kept",)),
    Parser("jobs.keeping.going_on.GoingOn", "notes of a verification that was stopped", "200 MB; two days old", "", ("kept",)),
    Parser("records.shared.read", "shared.toml", "100,000 bytes", "ArchiveDamaged", ("kept",)),
    Parser("records.pack.read_contents", "a pack", "2,000,000 members; 64 kB of head, 4 kB of a long name; every digest", "PackRefused", ("pack",)),
    Parser("jobs.keeping.unpacking.unpacked", "a pack", "as its contents say, and room on the disk; nothing outside the goal", "PackRefused", ("pack",)),
    Parser("encoders.openclip.load", "weights", "weights only: no pickle runs; the file's size", "WeightsUnavailable", ("checkpoint",)),
    Parser("panels.base.Panel._received", "a message from the browser", "values of the kinds that the method takes; 512 MB a file, 200 bytes of its name", "RefArchiveError", ("panels",)),
)  # fmt: skip

# Modules that call a parsing library, by the names in `test_parsers.CALLS`. The first part parses what comes from outside.
ROOMS: dict[str, frozenset[str]] = {
    module: frozenset(used.split(", "))
    for module, used in {
        "archive.planning": "tomllib",
        "encoders.builtin": "torch",
        "encoders.openclip": "torch",
        "jobs.references.filling": "csv",
        "jobs.references.signatures": "json",
        "jobs.choosing.sittings": "csv",
        "jobs.references.thumbnails": "Pillow",
        "looks.signatures": "numpy, struct, zlib",
        "paper.print_pictures": "LittleCMS, Pillow, zlib",
        "paper.shown": "Pillow, defusedxml",
        "publish.embed": "struct",
        "publish.iim": "struct",
        "publish.tiff_tags": "struct",
        "publish.xmp": "defusedxml",
        "records.edtf_days": "edtf",
        "records.files": "LittleCMS, Pillow, tifffile",
        "records.pack": "json",
        "records.preview_sums": "Pillow",
        "records.shared": "tomllib",
        "records.tally": "json",
        "scenes.linking": "tomlkit",
        "scenes.plan": "tomllib",
        "search.lists": "json, numpy",
        "search.vector_folder": "json",
        "search.vectors": "json, numpy",
        "sources.described": "html.parser, json",
        "sources.firsts": "csv",
        "sources.linear": "LibRaw, LittleCMS, tifffile",
        "sources.metadata": "Pillow",
        "sources.pdf_pages": "PDFium",
        "sources.sheet": "pandas",
        "sources.shot": "LibRaw, Pillow",
        # What the package wrote itself in the same process, or ships, or keeps as records in its database:
        "demo": "csv, tomllib",
        "jobs.keeping.pack_database": "sqlite3",
        "jobs.references.press": "LittleCMS",
        "looks.colour": "numpy",
        "panels.base": "PDFium",
        "records.sqlite": "sqlite3",
        "records.words_tsvector": "sqlite3",
        "search.vector_tables": "json",
        "sources.pdf_apart": "json",
        "subjects.suggesting": "sqlite3",
    }.items()
}
