"""Rights: the words a person uses, and the published statement they name; what follows from it stands in `uses`.

Two published vocabularies are known, each by its own URIs: the twelve statements of RightsStatements.org (version 1.0)
and the licences and public domain tools of Creative Commons. What a person writes is kept as written; `canonical_uri`
only says which statement it names, where it names exactly one. Free words name none, and are not guessed at.

URIs begin with `http`, as both vocabularies define them as identifiers (the pages themselves answer to `https` too).
"""

from __future__ import annotations

import re
import unicodedata

STATEMENTS = "http://rightsstatements.org/vocab/"
COMMONS = "http://creativecommons.org/"

# RightsStatements.org vocabulary 1.0: code, label (data model, rights-statements.ttl).
LABELS = {
    "InC": "In Copyright",
    "InC-OW-EU": "In Copyright - EU Orphan Work",
    "InC-RUU": "In Copyright - Rights-holder(s) Unlocatable or Unidentifiable",
    "InC-EDU": "In Copyright - Educational Use Permitted",
    "InC-NC": "In Copyright - Non-Commercial Use Permitted",
    "NoC-NC": "No Copyright - Non-Commercial Use Only",
    "NoC-CR": "No Copyright - Contractual Restrictions",
    "NoC-OKLR": "No Copyright - Other Known Legal Restrictions",
    "NoC-US": "No Copyright - United States",
    "NKC": "No Known Copyright",
    "CNE": "Copyright Not Evaluated",
    "UND": "Copyright Undetermined",
}
NOT_EVALUATED = f"{STATEMENTS}CNE/1.0/"
ZERO = f"{COMMONS}publicdomain/zero/1.0/"
MARK = f"{COMMONS}publicdomain/mark/1.0/"

LICENCES = ("by", "by-sa", "by-nc", "by-nc-sa", "by-nd", "by-nc-nd")
# Versions, and the jurisdictions each was ported to; "" is the licence that names none. Those of 3.0 that came after
# 2012 (am az ca ch cn eg ge ie igo ug ve za) are from memory, but for igo; the others are in Creative Commons' own RDF.
PORTS = {
    "1.0": ("", *"fi il nl".split()),
    "2.0": ("", *"at au be br ca cl de es fr hr it jp kr nl pl tw uk za".split()),
    "2.1": ("au", "es", "jp"),
    "2.5": ("", *"ar au bg br ca ch cn co dk es hr hu il in it mk mt mx my nl pe pl pt scotland se si tw za".split()),
    "3.0": (
        "",
        *"am at au az br ca ch cl cn cr cz de ec ee eg es fr ge gr gt hk hr ie igo it lu nl no nz ph".split(),
        *"pl pr pt ro rs sg th tw ug us ve vn za".split(),
    ),
    "4.0": ("",),
}
_PLACES = {  # names that stand for a jurisdiction in the full names of licences
    "australia": "au", "austria": "at", "brazil": "br", "canada": "ca", "england and wales": "uk", "france": "fr",
    "germany": "de", "italy": "it", "japan": "jp", "netherlands": "nl", "new zealand": "nz", "poland": "pl",
    "portugal": "pt", "scotland": "scotland", "spain": "es", "switzerland": "ch", "united states": "us",
}  # fmt: skip

_LONGEST = 500  # characters; a longer text is prose, not the name of a statement
_URI = re.compile(r"(?:https?://)?(?:www\.)?(?:rightsstatements|creativecommons)\.org/[^\s<>\"'()\[\]]*", re.IGNORECASE)
_STATEMENT_PATH = re.compile(r"(?:vocab|page|data)/([a-z-]+)/1\.0", re.IGNORECASE)
_ENDING = r"(?:/(?:deed|legalcode|rdf)(?:[._-][a-z][a-z_-]*)?)?"
_LICENCE_PATH = re.compile(rf"licen[sc]es/([a-z-]+)/([0-9.]+)(?:/(igo|scotland|[a-z]{{2}}))?{_ENDING}", re.IGNORECASE)
_TOOL_PATH = re.compile(rf"publicdomain/(zero|mark)/1\.0{_ENDING}", re.IGNORECASE)
_AROUND = re.compile(
    r"^(?:(?:rights|licen[sc]ed?|usage|under|terms|the|a|an|is|see|via)\b ?)+|"
    r"(?: ?\b(?:licen[sc]e|deed|see|via|under|international|universal|unported|generic))+$"
)
_PART = {"attribution": "by", "noncommercial": "nc", "sharealike": "sa", "noderivatives": "nd", "noderivs": "nd"}
_SAID = {  # other words that name one statement
    "public domain": MARK,
    "public domain mark": MARK,
    "public domain mark 1.0": MARK,
    "cc public domain mark": MARK,
    "cc public domain mark 1.0": MARK,
    "pdm": MARK,
    "pdm 1.0": MARK,
    "cc pdm": MARK,
    "cc pdm 1.0": MARK,
    "cc0": ZERO,
    "cc0 1.0": ZERO,
    "cc 0": ZERO,
    "cc zero": ZERO,
    "cc zero 1.0": ZERO,
    "cc0 1.0 public domain dedication": ZERO,
    "cc0 1.0 universal public domain dedication": ZERO,
    "all rights reserved": f"{STATEMENTS}InC/1.0/",
    "copyrighted": f"{STATEMENTS}InC/1.0/",
    "not evaluated": NOT_EVALUATED,
    "public domain in the united states": f"{STATEMENTS}NoC-US/1.0/",
    "no known copyright restrictions": f"{STATEMENTS}NKC/1.0/",
}


def canonical_uri(text: str) -> str | None:
    """The URI of the one published statement that a text names, or None for free words.

    The text may be a URI in any of its usual forms (`https`, without the last slash, the page of one language, the
    deed or the legal code), a code, a label, or the usual short name; a URI may stand beside a name of the same
    statement. A licence without its version names none. Text that says more than the statement is free words.

    >>> canonical_uri("CC BY 4.0")
    'http://creativecommons.org/licenses/by/4.0/'
    >>> canonical_uri("https://creativecommons.org/licenses/by-sa/3.0/de/deed.en")
    'http://creativecommons.org/licenses/by-sa/3.0/de/'
    >>> canonical_uri("In copyright")
    'http://rightsstatements.org/vocab/InC/1.0/'
    >>> canonical_uri("ask the museum first") is None
    True
    """
    if len(text) > _LONGEST:
        return None
    text = unicodedata.normalize("NFKC", text)
    uris = {_read_uri(found) for found in _URI.findall(text)}
    words = _plain(_URI.sub(" ", text))
    if not uris:
        return _read_words(words)
    if len(uris) > 1:
        return None
    uri = uris.pop()
    return uri if uri is not None and (not words or _read_words(words) == uri) else None


def _read_uri(text: str) -> str | None:
    """One URI, of whatever form, as the vocabulary defines it."""
    host, _, path = re.sub(r"^(?:https?://)?(?:www\.)?", "", text, flags=re.IGNORECASE).partition("/")
    path = re.split(r"[?#]", path.rstrip(".,;:"))[0].strip("/")
    if host.lower() == "rightsstatements.org":
        found = _STATEMENT_PATH.fullmatch(path)
        code = _code(found[1]) if found else None
        return f"{STATEMENTS}{code}/1.0/" if code else None
    if found := _TOOL_PATH.fullmatch(path):
        return ZERO if found[1].lower() == "zero" else MARK
    if found := _LICENCE_PATH.fullmatch(path):
        return _licence(set(found[1].lower().split("-")), found[2], (found[3] or "").lower())
    return None


def _code(text: str) -> str | None:
    return next((code for code in LABELS if code.lower() == text.lower()), None)


def _licence(parts: set[str], version: str, place: str) -> str | None:
    """The URI of a licence by its parts, where there is one."""
    name = next((one for one in LICENCES if set(one.split("-")) == parts), None)
    if name is None or place not in PORTS.get(version, ()):
        return None
    if (name, version) == ("by-nc-nd", "1.0"):
        name = "by-nd-nc"  # the parts of this one stand the other way round
    return f"{COMMONS}licenses/{name}/{version}/" + (f"{place}/" if place else "")


def _plain(text: str) -> str:
    """Lower case, single spaces, no punctuation but the point of a version, nothing that only leads in or out."""
    text = re.sub(r"(?<![0-9])\.|\.(?![0-9])|[^\w.]+|_", " ", text.lower())
    text = re.sub(r"\bv(?:ersion)? ?(?=[0-9])", "", " ".join(text.split()))
    return _AROUND.sub("", text).strip()


def _read_words(words: str) -> str | None:
    if words in _SAID:
        return _SAID[words]
    for code, label in LABELS.items():
        if words in (_plain(code), f"{_plain(code)} 1.0", _plain(label)):
            return f"{STATEMENTS}{code}/1.0/"
    words = re.sub(r"^creative commons\b", "cc", words)
    words = words.replace("non commercial", "noncommercial").replace("share alike", "sharealike")
    words = re.sub(r"\bno deriv(?:atives?|s)(?: works)?\b", "noderivatives", words)
    if words in _SAID:
        return _SAID[words]
    found = re.fullmatch(r"(?:cc )?((?:[a-z]+ )+)([0-9](?:\.[0-9])?)((?: [a-z]+)*)", words)
    if found is None:
        return None
    parts = [_PART.get(word, word) for word in found[1].split()]
    place = re.sub(r"^(?:international|unported|generic)\b ?", "", found[3].strip())
    version = found[2] if "." in found[2] else f"{found[2]}.0"
    if len(set(parts)) != len(parts):
        return None
    return _licence(set(parts), version, _PLACES.get(place, place))


def label_of(uri: str) -> str:
    """The short name of a statement by its canonical URI; the URI itself where it is none of ours.

    >>> label_of("http://creativecommons.org/licenses/by-nc/3.0/de/")
    'CC BY-NC 3.0 DE'
    """
    if uri in (ZERO, MARK):
        return "CC0 1.0" if uri == ZERO else "Public Domain Mark 1.0"
    if code := code_of(uri):
        return LABELS[code]
    if licence_of(uri):
        name, version, *place = uri.removeprefix(f"{COMMONS}licenses/").strip("/").split("/")
        return " ".join(("CC", name.upper(), version, *(one.upper() for one in place)))
    return uri


def code_of(uri: str | None) -> str:
    """The code of one of the twelve statements by its canonical URI, "" for anything else."""
    path = (uri or "").removeprefix(STATEMENTS)
    return path.partition("/")[0] if path != uri and path else ""


def licence_of(uri: str | None) -> frozenset[str]:
    """The parts of a licence that asks for credit, empty for anything else."""
    path = (uri or "").removeprefix(f"{COMMONS}licenses/")
    return frozenset(path.partition("/")[0].split("-")) if path and path != uri else frozenset()
