"""Photo metadata as an XMP packet: written, merged with one that is there, parted where a segment cannot hold it.

Sources: ISO 16684-1 (XMP Specification Part 1) for the data model and its RDF; XMP Specification Part 3, "Storage in
Files" (2016), JPEG: a packet of at most 65,502 bytes in the segment itself; what exceeds it goes as whole properties
into an Extended XMP, which the standard packet names by its MD5 digest. The largest properties go first.

XML is built and read as a tree; old packets are read through defusedxml: entities and document types are refused.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from refarchive.errors import PublishRefused
from refarchive.publish.photo_metadata import (
    BAG,
    LANGUAGE,
    NAMES,
    PLACES,
    PROPERTIES,
    SEQ,
    PhotoMetadata,
    Property,
    Value,
)
from refarchive.records.wall import Place

if TYPE_CHECKING:
    from xml.dom.minidom import Document, Element

STANDARD_MOST = 65_502  # bytes of a packet in one JPEG segment
LARGEST = 4_000_000  # bytes of a packet, old or new, both parts together
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XML = "http://www.w3.org/XML/1998/namespace"
XMLNS = "http://www.w3.org/2000/xmlns/"
META = "adobe:ns:meta/"
NOTE = "http://ns.adobe.com/xmp/note/"
NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
    "plus": "http://ns.useplus.org/ldf/xmp/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
}
_BEGIN = b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
_END = b'\n<?xpacket end="w"?>'
_PLACE = (("sublocation", "Sublocation"), ("city", "City"), ("province", "ProvinceState"), ("country", "CountryName"),
          ("country_code", "CountryCode"))  # fmt: skip
_USUAL = {RDF: "rdf", **{uri: prefix for prefix, uri in NAMESPACES.items()}}
_DEEPEST = 100  # elements within one another, in an old packet


@dataclass(frozen=True)
class Packet:
    """The packet for the file, and what did not fit into it: `extended` is b"" or the Extended XMP, named by `guid`."""

    standard: bytes
    extended: bytes = b""
    guid: str = ""


@dataclass(frozen=True)
class _Held:
    """One property as an element, which description it came in (0 for ours), and the prefixes of others there."""

    element: Element
    group: int = 0
    prefixes: tuple[tuple[str, str], ...] = ()


def packet(metadata: PhotoMetadata, old: Sequence[bytes] = (), *, most: int | None = STANDARD_MOST) -> Packet:
    """The packet of a picture's metadata. `most` is how many bytes the standard part may have, None for any number.

    `old` are the parts of a packet that is there; what of it we do not write ourselves stays.

    Raises
    ------
    PublishRefused
        for an old packet that cannot be read, or one larger than `LARGEST`.
    """
    document = _document()
    own = [_Held(_property(document, one, value)) for one, value in metadata.values]
    ours = {_name_of(one.xmp) for one in PROPERTIES}
    held = own + [one for one in _read(old) if (one.element.namespaceURI, one.element.localName) not in ours]
    whole = _BEGIN + _serialised(held) + _END
    if len(whole) > LARGEST:
        raise PublishRefused(
            f"The metadata have {len(whole):,} bytes; {LARGEST:,} are the most.",
            "Shorten the longest texts.",
            field="file",
        )
    if most is None or len(whole) <= most:
        return Packet(whole)
    return _parted(held, most)


def _parted(held: Sequence[_Held], most: int) -> Packet:
    """As few of the largest properties moved out as let the rest fit."""
    sizes = [len(one.element.toxml().encode()) for one in held]
    order = sorted(range(len(held)), key=sizes.__getitem__, reverse=True)

    def standard(moved: int, guid: str) -> bytes:
        return _BEGIN + _serialised([held[index] for index in sorted(order[moved:])], guid) + _END

    def fits(moved: int) -> bool:
        return len(standard(moved, "0" * 32)) <= most  # as long as with the digest

    moved = 1 + bisect_left(range(1, len(held) + 1), True, key=fits)
    if moved <= len(held):
        extended = _serialised([held[index] for index in sorted(order[:moved])])
        guid = hashlib.md5(extended, usedforsecurity=False).hexdigest().upper()
        return Packet(standard(moved, guid), extended, guid)
    raise PublishRefused("The metadata cannot be parted so that a segment holds them.", "Shorten them.", field="file")


# --- writing --------------------------------------------------------------------------------------------------------


def _property(document: Document, one: Property, value: Value) -> Element:
    element = _element(document, one.xmp)
    if isinstance(value, str):
        if one.form == LANGUAGE:
            element.appendChild(_language(document, value))
        else:
            element.appendChild(document.createTextNode(value))
        return element
    assert one.form in (BAG, SEQ, PLACES, NAMES)
    array = element.appendChild(document.createElementNS(RDF, "rdf:Seq" if one.form == SEQ else "rdf:Bag"))
    for entry in value:
        item = array.appendChild(document.createElementNS(RDF, "rdf:li"))
        if isinstance(entry, str):
            item.appendChild(document.createTextNode(entry))
            continue
        item.setAttributeNS(RDF, "rdf:parseType", "Resource")
        for field in _of_place(document, entry) if isinstance(entry, Place) else _of_name(document, *entry):
            item.appendChild(field)
    return element


def _of_place(document: Document, place: Place) -> Iterable[Element]:
    for name, term in _PLACE:
        if getattr(place, name):
            yield _plain(document, f"Iptc4xmpExt:{term}", getattr(place, name))
    if place.latitude is not None and place.longitude is not None:
        yield _plain(document, "exif:GPSLatitude", gps(place.latitude, "NS"))
        yield _plain(document, "exif:GPSLongitude", gps(place.longitude, "EW"))


def _of_name(document: Document, name: str, role: str) -> Iterable[Element]:
    named = _element(document, "Iptc4xmpExt:Name")
    named.appendChild(_language(document, name))
    yield named
    if role:
        roles = _element(document, "Iptc4xmpExt:Role")
        bag = roles.appendChild(document.createElementNS(RDF, "rdf:Bag"))
        bag.appendChild(document.createElementNS(RDF, "rdf:li")).appendChild(document.createTextNode(role))
        yield roles


def gps(degrees: float, letters: str) -> str:
    """A coordinate as XMP writes it (`exif:GPSCoordinate`): degrees, minutes with a point, the letter.

    >>> gps(-0.5, "EW")
    '0,30.000000W'
    """
    millionths = round(abs(degrees) * 60_000_000)
    whole, minutes = divmod(millionths, 60_000_000)
    return f"{whole},{minutes / 1_000_000:.6f}{letters[degrees < 0]}"


def _document() -> Document:
    from xml.dom.minidom import getDOMImplementation

    implementation = getDOMImplementation()
    assert implementation is not None
    return implementation.createDocument(META, "x:xmpmeta", None)


def _language(document: Document, text: str) -> Element:
    alternatives = document.createElementNS(RDF, "rdf:Alt")
    item = alternatives.appendChild(document.createElementNS(RDF, "rdf:li"))
    item.setAttributeNS(XML, "xml:lang", "x-default")
    item.appendChild(document.createTextNode(text))
    return alternatives


def _plain(document: Document, xmp: str, text: str) -> Element:
    element = _element(document, xmp)
    element.appendChild(document.createTextNode(text))
    return element


def _element(document: Document, xmp: str) -> Element:
    return document.createElementNS(_name_of(xmp)[0], xmp)


def _name_of(xmp: str) -> tuple[str, str]:
    prefix, _, local = xmp.partition(":")
    return NAMESPACES[prefix], local


def _serialised(held: Sequence[_Held], guid: str = "") -> bytes:
    """The RDF in its `x:xmpmeta`, a description for each that the properties came in."""
    groups: dict[int, list[_Held]] = {0: []} if guid else {}
    for one in held:
        groups.setdefault(one.group, []).append(one)
    document = _document()
    root = document.documentElement
    assert root is not None
    root.setAttributeNS(XMLNS, "xmlns:x", META)
    rdf = root.appendChild(document.createElementNS(RDF, "rdf:RDF"))
    rdf.setAttributeNS(XMLNS, "xmlns:rdf", RDF)
    for group, members in sorted(groups.items()):
        description = rdf.appendChild(document.createElementNS(RDF, "rdf:Description"))
        description.setAttributeNS(RDF, "rdf:about", "")
        used = _used(one.element for one in members)
        for prefix, uri in (*NAMESPACES.items(), *(members[0].prefixes if members else ())):
            if (prefix, uri) in used or uri not in _USUAL:
                description.setAttributeNS(XMLNS, f"xmlns:{prefix}" if prefix else "xmlns", uri)
        if guid and not group:
            description.setAttributeNS(XMLNS, "xmlns:xmpNote", NOTE)
            description.setAttributeNS(NOTE, "xmpNote:HasExtendedXMP", guid)
        for one in members:
            description.appendChild(cast("Element", one.element.cloneNode(True)))
    return root.toxml().encode("utf-8")


def _used(elements: Iterable[Element]) -> set[tuple[str, str]]:
    """(prefix, namespace) of elements, their attributes, and of all in them."""
    found: set[tuple[str, str]] = set()
    for element in elements:
        for one in (element, *element.attributes.values()):
            found.add((one.prefix or "", one.namespaceURI or ""))
        found |= _used(child for child in element.childNodes if child.nodeType == child.ELEMENT_NODE)
    return found


# --- reading what is there ------------------------------------------------------------------------------------------


def _read(parts: Sequence[bytes]) -> list[_Held]:
    found: list[_Held] = []
    group = declared = 0
    for part in parts:
        root = _tree(part)
        for rdf in root.getElementsByTagNameNS(RDF, "RDF")[:1] if root.namespaceURI != RDF else [root]:
            for description in rdf.childNodes:
                if description.nodeType == description.ELEMENT_NODE and description.localName == "Description":
                    group += 1
                    _rename(description)
                    prefixes = _prefixes(description)
                    declared += sum(len(prefix) + len(uri) for prefix, uri in prefixes.items())
                    if declared > LARGEST:  # they are written again at each description
                        raise _unreadable(f"its namespaces would take more than {LARGEST:,} bytes")
                    found += _of_description(description, group, tuple(prefixes.items()))
    return found


def _of_description(description: Element, group: int, prefixes: tuple[tuple[str, str], ...]) -> Iterable[_Held]:
    document = description.ownerDocument
    assert document is not None
    for attribute in list(description.attributes.values()):
        uri = attribute.namespaceURI
        if uri in (None, RDF, XML, XMLNS) or uri == NOTE:
            continue
        element = document.createElementNS(uri, attribute.name)  # a property written as an attribute is the same one
        element.appendChild(document.createTextNode(attribute.value))
        yield _Held(element, group, prefixes)
    for child in description.childNodes:
        if child.nodeType == child.ELEMENT_NODE and child.namespaceURI not in (RDF, NOTE):
            yield _Held(child, group, prefixes)


def _rename(element: Element) -> None:
    """Give the namespaces that we write ourselves, and RDF, their usual prefixes: much-used readers insist on them."""
    for attribute in list(element.attributes.values()):
        uri, value = attribute.namespaceURI, attribute.value
        if uri == XMLNS:
            if value in _USUAL:
                element.removeAttributeNode(attribute)
            elif attribute.localName in _USUAL.values() and attribute.prefix:
                raise _unreadable(f"it uses {attribute.localName} for another namespace")
        elif uri in _USUAL and attribute.prefix != _USUAL[uri]:
            element.removeAttributeNode(attribute)
            element.setAttributeNS(uri, f"{_USUAL[uri]}:{attribute.localName}", value)
    if element.namespaceURI in _USUAL:
        element.prefix = _USUAL[element.namespaceURI]
        element.tagName = element.nodeName = f"{element.prefix}:{element.localName}"
    for child in element.childNodes:
        if child.nodeType == child.ELEMENT_NODE:
            _rename(child)


def _prefixes(element: Element) -> dict[str, str]:
    """What is declared at an element and around it, the nearest first."""
    found: dict[str, str] = {}
    node = element
    while node is not None and node.nodeType == node.ELEMENT_NODE:
        for attribute in node.attributes.values():
            if attribute.namespaceURI == XMLNS and attribute.value not in _USUAL:
                prefix = attribute.localName if attribute.prefix else ""
                if prefix in _USUAL.values():
                    raise _unreadable(f"it uses {prefix} for another namespace")
                found.setdefault(prefix, attribute.value)
        node = node.parentNode  # type: ignore[assignment]
    return found


def _tree(part: bytes) -> Element:
    """The root of an old packet.

    Raises
    ------
    PublishRefused
        for one that is no XML, names entities, is too deep or too large.
    """
    from xml.parsers.expat import ExpatError

    import defusedxml.minidom  # type: ignore[import-untyped]
    from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]

    if len(part) > LARGEST:
        raise _unreadable(f"it has {len(part):,} bytes, {LARGEST:,} are the most")
    text = part.strip(b"\0 \t\r\n")
    if text.startswith(b"<?xpacket"):
        text = text[text.find(b"?>") + 2 :].lstrip(b"\0 \t\r\n")
    end = text.rfind(b"<?xpacket")
    text = (text[:end] if end > 0 else text).rstrip(b"\0 \t\r\n")
    try:
        document = defusedxml.minidom.parseString(text, forbid_dtd=True)
    except (ExpatError, DefusedXmlException, ValueError, LookupError) as error:
        raise _unreadable(str(error) or type(error).__name__) from None
    root: Element = document.documentElement
    level, depth = [root], 0
    while level:
        depth += 1
        if depth > _DEEPEST:
            raise _unreadable(f"its elements lie more than {_DEEPEST} deep")
        level = [c for e in level for c in e.childNodes if c.nodeType == c.ELEMENT_NODE]
    return root


def _unreadable(why: str) -> PublishRefused:
    return PublishRefused(
        f"The XMP that the file holds already cannot be read ({why}), so nothing could be kept of it.",
        "Write the public version, which replaces it, or export the picture again.",
        field="file",
    )
