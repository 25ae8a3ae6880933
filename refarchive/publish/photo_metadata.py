"""What goes into the file of a finished picture, in the terms of the IPTC Photo Metadata Standard (2025.1).

`PROPERTIES` is our part of the standard: its own names, XMP ids, IIM data sets of record 2 and their longest values in
bytes, EXIF tags (source: the standard's technical reference, excerpt in tests/authorities/iptc_properties.csv).
Vocabularies: Digital Source Type NewsCodes as released on 2024-10-23 (cv.iptc.org), release status from PLUS (see
`clearance`).

Two versions. The **private** one holds everything recorded. The **public** one leaves out, and says so in `left_out`:

- coordinates, of the place where the picture was made and of the place shown: a scene is staged where it happened, so
  the one would tell the other. The names of both places stay, as they were written for the caption;
- every person without a model release that is granted and has not ended, or that is recorded as not needed; such a name
  among the contributors is left out too, and one in a text that goes out is refused, with the name of that text;
- where releases can be read (Model and Property Release Id), which is a note to oneself.

In both: Date Created is the day of the shoot. A day before photography was made public (19 August 1839), after today,
or not after the event is refused: the event's date belongs into the caption. Rights Usage Terms are the terms as
written, else the statement or licence that the rights name. Web Statement of Rights is the address given, else that of
a Creative Commons licence (the standard maps the property to schema.org/license). Nothing is said of what nobody
recorded.

Texts are bounded. Control characters become spaces, what XML cannot carry and marks that turn the direction of writing
are taken out; caption, alt text, note and terms keep their line ends, all others are one line.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from refarchive.errors import PublishRefused
from refarchive.publish.clearance import day_of, holds, may_be_named, model_release, property_release
from refarchive.records.dates import julian_day
from refarchive.records.model import When
from refarchive.records.rights import canonical_uri, label_of, licence_of
from refarchive.records.wall import Particulars, Place

# How a value is written in XMP: one text; a text with a language; a list without and with an order; an address; a day;
# places; names with their roles.
TEXT, LANGUAGE, BAG, SEQ, PLACES, NAMES = "text", "language", "bag", "seq", "places", "names"


@dataclass(frozen=True)
class Property:
    """One property of the standard. `iim` is a data set of record 2, with the most bytes it takes; `exif` a tag."""

    name: str
    xmp: str
    form: str
    iim: int | None = None
    iim_bytes: int | None = None
    exif: int | None = None


PROPERTIES: tuple[Property, ...] = (
    Property("Title", "dc:title", LANGUAGE, 5, 64),
    Property("Headline", "photoshop:Headline", TEXT, 105, 256),
    Property("Description", "dc:description", LANGUAGE, 120, 2000, exif=270),
    Property("Alt Text (Accessibility)", "Iptc4xmpCore:AltTextAccessibility", LANGUAGE),
    Property("Extended Description (Accessibility)", "Iptc4xmpCore:ExtDescrAccessibility", LANGUAGE),
    Property("Keywords", "dc:subject", BAG, 25, 64),
    Property("Date Created", "photoshop:DateCreated", TEXT, 55, 8),
    Property("Location Created", "Iptc4xmpExt:LocationCreated", PLACES),
    Property("Location Shown in the Image", "Iptc4xmpExt:LocationShown", PLACES),
    Property("Event Name", "Iptc4xmpExt:Event", LANGUAGE),
    Property("Person Shown in the Image", "Iptc4xmpExt:PersonInImage", BAG),
    Property("Creator", "dc:creator", SEQ, 80, 32, exif=315),
    Property("Contributor", "Iptc4xmpExt:Contributor", NAMES),
    Property("Credit Line", "photoshop:Credit", TEXT, 110, 32),
    Property("Copyright Notice", "dc:rights", LANGUAGE, 116, 128, exif=33432),
    Property("Rights Usage Terms", "xmpRights:UsageTerms", LANGUAGE),
    Property("Web Statement of Rights", "xmpRights:WebStatement", TEXT),
    Property("Model Release Status", "plus:ModelReleaseStatus", TEXT),
    Property("Model Release Id", "plus:ModelReleaseID", BAG),
    Property("Property Release Status", "plus:PropertyReleaseStatus", TEXT),
    Property("Property Release Id", "plus:PropertyReleaseID", BAG),
    Property("Digital Source Type", "Iptc4xmpExt:DigitalSourceType", TEXT),
)

SOURCE_TYPE = "http://cv.iptc.org/newscodes/digitalsourcetype/"
SOURCE_TYPES = {  # code, and its meaning in our words
    "digitalCapture": "one photograph from life, with a digital camera",
    "computationalCapture": "several exposures from life, merged by the camera or by rule",
    "negativeFilm": "digitised from a negative",
    "positiveFilm": "digitised from a positive on film",
    "print": "digitised from a print",
    "humanEdits": "altered by a person with tools that generate nothing",
    "algorithmicallyEnhanced": "altered by an algorithm, its content left as it was",
    "compositeCapture": "put together from several captures, all of them from life",
    "composite": "put together from several elements of any origin",
    "compositeSynthetic": "put together, at least one element being generated",
    "compositeWithTrainedAlgorithmicMedia": "altered with generated parts",
    "trainedAlgorithmicMedia": "generated by a trained model",
    "algorithmicMedia": "made by an algorithm without training data",
    "digitalCreation": "made by a person with digital tools that generate nothing",
    "dataDrivenMedia": "a rendering of data",
    "screenCapture": "the content of a screen",
    "virtualRecording": "a recording of a virtual event",
}
_RETIRED = {"minorHumanEdits": "humanEdits", "softwareImage": "digitalCreation", "digitalArt": "digitalCreation"}

PHOTOGRAPHY_PUBLIC = date(1839, 8, 19)  # the process of the daguerreotype was read out in Paris that day
LONGEST_LINE = 2_000  # characters of a text of one line
LONGEST_TEXT = 20_000  # characters of a text of several
MOST = 500  # entries of one list
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

Value = str | tuple[str, ...] | tuple[Place, ...] | tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class PhotoMetadata:
    """Values by property, in the standard's order of `PROPERTIES`; and what was left out, with the reason."""

    values: tuple[tuple[Property, Value], ...]
    private: bool
    left_out: tuple[tuple[str, str], ...] = ()

    def get(self, xmp: str) -> Value | None:
        """The value of a property by its XMP id, None where nothing is said."""
        return next((value for one, value in self.values if one.xmp == xmp), None)

    @property
    def rows(self) -> tuple[tuple[str, str], ...]:
        """(name of the property, value as one text), as a person reads it."""
        return tuple((one.name, "; ".join(words_of(value))) for one, value in self.values)

    @property
    def shortened(self) -> tuple[str, ...]:
        """Names of properties whose value is longer than IIM takes: cut there, whole in XMP."""
        return tuple(
            one.name
            for one, value in self.values
            if one.iim_bytes and one.iim != 55 and any(len(text.encode()) > one.iim_bytes for text in _texts(value))
        )


def photo_metadata(
    particulars: Particulars, *, on: str, private: bool = False, event: When | None = None
) -> PhotoMetadata:
    """The properties of a finished picture, for a file that goes out on the day `on` (ISO); the rules are above.

    `event` is the date of the historical event, against which the day of the shoot is held.

    Raises
    ------
    PublishRefused
        with the `field` of `Particulars`: a text or list out of bounds, a day of the shoot that cannot be one, a code
        or address that is none, coordinates out of range, a name in a public text that may not stand there.
    """
    today = day_of(on, "The day of publishing")
    left_out: list[tuple[str, str]] = []
    persons = _list(particulars.persons, "persons")
    kept_back = [] if private else [one for one in persons if not may_be_named(one, particulars.leaves, today)]
    names = tuple(one for one in persons if one not in kept_back)
    contributors = _contributors(particulars.contributors)
    credited = tuple((name, role) for name, role in contributors if name not in kept_back)
    if kept_back:
        left_out.append(("Person Shown in the Image", f"{len(kept_back)} without a release on record"))
    if len(credited) < len(contributors):
        left_out.append(("Contributor", f"{len(contributors) - len(credited)} shown without a release on record"))
    made, shown = _place(particulars.taken_at, "taken_at"), _place(particulars.shown, "shown")
    if not private:
        for name, place in (("Location Created", made), ("Location Shown in the Image", shown)):
            if place.latitude is not None:
                left_out.append((name, "its coordinates"))
        made, shown = (replace(place, latitude=None, longitude=None) for place in (made, shown))
    releases = {
        kind: _list([one.evidence for one in particulars.leaves if one.kind == kind and holds(one, today)], "leaves")
        for kind in ("model", "property")
    }
    if not private:
        left_out += [
            (f"{kind.capitalize()} Release Id", "where it can be read") for kind, ids in releases.items() if ids
        ]
        releases = {"model": (), "property": ()}
    uri = canonical_uri(particulars.rights) or ""
    stated = f"{label_of(uri)} ({uri})" if uri else particulars.rights
    values: dict[str, Value] = {
        "dc:title": _line(particulars.title, "title"),
        "photoshop:Headline": _line(particulars.headline, "headline"),
        "dc:description": _text(particulars.caption, "caption"),
        "Iptc4xmpCore:AltTextAccessibility": _text(particulars.alt_text, "alt_text"),
        "Iptc4xmpCore:ExtDescrAccessibility": _text(particulars.note, "note"),
        "dc:subject": _list(particulars.keywords, "keywords"),
        "photoshop:DateCreated": _created(particulars.created, today, event),
        "Iptc4xmpExt:LocationCreated": _said(made),
        "Iptc4xmpExt:LocationShown": _said(shown),
        "Iptc4xmpExt:Event": _line(particulars.event, "event"),
        "Iptc4xmpExt:PersonInImage": names,
        "dc:creator": _list([particulars.creator], "creator"),
        "Iptc4xmpExt:Contributor": credited,
        "photoshop:Credit": _line(particulars.credit_line, "credit_line"),
        "dc:rights": _line(particulars.copyright_notice, "copyright_notice"),
        "xmpRights:UsageTerms": _text(particulars.usage_terms or stated, "usage_terms"),
        "xmpRights:WebStatement": _address(particulars.web_statement) or (uri if licence_of(uri) else ""),
        "plus:ModelReleaseStatus": model_release(particulars, on=on),
        "plus:ModelReleaseID": releases["model"],
        "plus:PropertyReleaseStatus": property_release(particulars, on=on),
        "plus:PropertyReleaseID": releases["property"],
        "Iptc4xmpExt:DigitalSourceType": source_type(particulars.source_type),
    }
    told = tuple((one, values[one.xmp]) for one in PROPERTIES if values[one.xmp])
    _refuse_names(told, kept_back)
    return PhotoMetadata(told, private, tuple(left_out))


def source_type(text: str) -> str:
    """The URI of a digital source type, from its code or its URI; "" for nothing.

    A staged scene in one exposure is `digitalCapture`: the standard asks how the file came to be, not whether what
    stood before the camera was staged. Several exposures put together are `compositeCapture`.

    Raises
    ------
    PublishRefused
        for a code that the vocabulary does not have, or has retired.

    >>> source_type("digitalCapture")
    'http://cv.iptc.org/newscodes/digitalsourcetype/digitalCapture'
    """
    code = re.sub(r"^https?://cv\.iptc\.org/newscodes/digitalsourcetype/", "", text.strip()).rstrip("/")
    if not code:
        return ""
    if code in _RETIRED:
        raise PublishRefused(
            f"The digital source type {code!r} is retired.", f"Take {_RETIRED[code]!r} instead.", field="source_type"
        )
    if code not in SOURCE_TYPES:
        raise PublishRefused(
            f"{code[:60]!r} is no digital source type.", f"Types are: {', '.join(SOURCE_TYPES)}.", field="source_type"
        )
    return SOURCE_TYPE + code


# --- values ---------------------------------------------------------------------------------------------------------


def cleaned(text: str, *, lines: bool = False) -> str:
    r"""A text without what XML 1.0 cannot carry, control characters, or marks that turn the direction of writing.

    >>> cleaned("a\x00b\tc\nd")
    'a b c d'
    """
    out = []
    for character in re.sub(r"\r\n?|[\x0b\x0c\x85\u2028\u2029]", "\n", text):
        code, kind = ord(character), unicodedata.category(character)
        if character == "\n" and lines:
            out.append("\n")
        elif kind == "Cc" or character == "\n":
            out.append(" ")
        elif not (character in _TURNING or kind == "Cs" or code & 0xFFFE == 0xFFFE or code == 0xFEFF):
            out.append(character)
    kept = "\n".join(" ".join(line.split()) for line in "".join(out).split("\n")).strip()
    return re.sub(r"\n{3,}", "\n\n", kept)


def _line(text: str, field: str, longest: int = LONGEST_LINE, *, lines: bool = False) -> str:
    if len(text) > longest:
        raise PublishRefused(
            f"The {_called(field)} has {len(text):,} characters; {longest:,} are the most.", "Shorten it.", field=field
        )
    return cleaned(text, lines=lines)


def _text(text: str, field: str) -> str:
    return _line(text, field, LONGEST_TEXT, lines=True)


def _list(texts: tuple[str, ...] | list[str], field: str) -> tuple[str, ...]:
    """The texts that say something, each once."""
    if len(texts) > MOST:
        raise PublishRefused(
            f"There are {len(texts):,} entries in the {_called(field)}; {MOST} are the most.", "Leave some out.",
            field=field,
        )  # fmt: skip
    return tuple(dict.fromkeys(kept for text in texts if (kept := _line(text, field))))


def _contributors(pairs: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    _list([name for name, _ in pairs], "contributors")
    both = [(_line(name, "contributors"), _line(role, "contributors")) for name, role in pairs]
    return tuple(dict.fromkeys((name, role) for name, role in both if name))


def _created(text: str, today: date, event: When | None) -> str:
    if not text:
        return ""
    try:
        day = day_of(text, "The day of the shoot")
    except PublishRefused as refused:
        raise PublishRefused(refused.problem, refused.next_step, field="created") from None
    problem = ""
    if day < PHOTOGRAPHY_PUBLIC:
        problem = f"The day of the shoot is {text}, before there was photography."
    elif day > today:
        problem = f"The day of the shoot is {text}, after the day of publishing."
    elif event is not None:
        last = event.latest if event.latest is not None else event.earliest
        if last is not None and julian_day(day.year, day.month, day.day) <= last:
            problem = f"The day of the shoot is {text}, not after the event ({event.text or event.edtf})."
    if problem:
        step = "Date Created takes the day the picture was shot; the date of the event belongs into the caption."
        raise PublishRefused(problem, step, field="created")
    return text


def _address(text: str) -> str:
    address = text.strip()
    if address and (len(address) > LONGEST_LINE or not re.fullmatch(r"https?://[^\s<>\"{}|\\^`\x00-\x20]+", address)):
        raise PublishRefused(
            f"The web statement of rights is {address[:60]!r}, which is no web address.",
            "Give an address that begins with https://, or none.", field="web_statement",
        )  # fmt: skip
    return address


def _place(place: Place, field: str) -> Place:
    if (place.latitude is None) != (place.longitude is None):
        raise PublishRefused(
            f"The {_called(field)} has half a position.", "Give both coordinates, or none.", field=field
        )
    if not (abs(place.latitude or 0.0) <= 90 and abs(place.longitude or 0.0) <= 180):
        raise PublishRefused(
            f"The {_called(field)} lies at {place.latitude}, {place.longitude}.",
            "Give degrees: latitude to ±90, longitude to ±180.",
            field=field,
        )
    code = place.country_code.strip().upper()
    if code and not re.fullmatch("[A-Z]{2,3}", code):
        raise PublishRefused(
            f"{code[:20]!r} is no country code.", "Give two or three letters of ISO 3166, as in GB.", field=field
        )
    return replace(
        place,
        sublocation=_line(place.sublocation, field),
        city=_line(place.city, field),
        province=_line(place.province, field),
        country=_line(place.country, field),
        country_code=code,
    )


def _said(place: Place) -> tuple[Place, ...]:
    return (place,) if place != Place() else ()


def _called(field: str) -> str:
    return {"taken_at": "place of the shoot", "shown": "place shown"}.get(field, field.replace("_", " "))


def _refuse_names(told: tuple[tuple[Property, Value], ...], kept_back: list[str]) -> None:
    lists = ("Iptc4xmpExt:PersonInImage", "Iptc4xmpExt:Contributor")  # names as they are, held apart already
    for one, value in told:
        for text in () if one.xmp in lists else words_of(value):
            for name in kept_back:
                if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE):
                    raise PublishRefused(
                        f"{one.name} names {name}, of whom no release is on record.",
                        "Record the release, or that none is needed, or take the name out of that text.",
                        field=one.name,
                    )


def _texts(value: Value) -> Iterator[str]:
    for one in (value,) if isinstance(value, str) else value:
        if isinstance(one, str):
            yield one


def words_of(value: Value) -> Iterator[str]:
    """A value as texts, as a person reads them: a place in its parts, a name with its role."""
    for one in (value,) if isinstance(value, str) else value:
        if isinstance(one, str):
            yield one
        elif isinstance(one, Place):
            parts = [one.sublocation, one.city, one.province, one.country, one.country_code]
            if one.latitude is not None and one.longitude is not None:
                parts.append(f"{one.latitude:.6f}, {one.longitude:.6f}")
            yield ", ".join(part for part in parts if part)
        else:
            name, role = one
            yield f"{name} ({role})" if role else name
