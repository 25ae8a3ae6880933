"""Rights statements: what words name, against the published vocabularies."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from refarchive.records import rights
from refarchive.records.rights import canonical_uri

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def table(name: str) -> list[dict[str, str]]:
    lines = (AUTHORITIES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


STATEMENTS = table("rights_statements.csv")
LICENCES = table("creative_commons_licences.csv")
URIS = [u for u in (AUTHORITIES / "creative_commons_uris.txt").read_text().splitlines() if not u.startswith("#")]

# --- the published vocabularies -------------------------------------------------------------------------------------


def test_the_twelve_statements_are_those_published() -> None:
    assert {f"{rights.STATEMENTS}{code}/1.0/": label for code, label in rights.LABELS.items()} == {
        row["uri"]: row["label"] for row in STATEMENTS
    }
    assert len(rights.LABELS) == 12


@pytest.mark.parametrize("row", STATEMENTS, ids=lambda row: row["notation"])
def test_a_statement_is_known_by_code_label_and_any_form_of_its_uri(row: dict[str, str]) -> None:
    uri, code, label = row["uri"], row["notation"], row["label"]
    forms = [uri, uri.rstrip("/"), uri.replace("http:", "https:"), f"{uri}?language=de", f"<{uri}>", f" {uri}\n"]
    forms += [uri.replace("/vocab/", "/page/"), uri.replace("/vocab/", "/data/"), uri.removeprefix("http://")]
    forms += [code, code.lower(), f"{code} 1.0", code.replace("-", " "), label, label.upper(), label.replace("-", "–")]
    forms += [f"{label} ({uri})", f"{code}: {uri}"]
    assert {form: canonical_uri(form) for form in forms} == dict.fromkeys(forms, uri)


@pytest.mark.parametrize("row", LICENCES, ids=lambda row: row["identifier"])
def test_a_licence_is_known_by_identifier_name_and_any_form_of_its_uri(row: dict[str, str]) -> None:
    uri = row["url"].removesuffix("legalcode").replace("https:", "http:")
    forms = [row["url"], uri, uri.rstrip("/"), f"{uri}deed.en", f"{uri}deed.pt-br", f"{uri}legalcode.de", f"{uri}rdf"]
    forms += [row["identifier"], row["identifier"].replace("-", " "), row["name"], row["name"].lower()]
    forms += [f"{row['name']} ({uri})", f"Licensed under the {row['name']} license."]
    assert {form: canonical_uri(form) for form in forms} == dict.fromkeys(forms, uri)


def test_every_uri_of_creative_commons_own_list_is_its_own_canonical_form() -> None:
    assert len(URIS) == 525
    odd = {uri: canonical_uri(uri) for uri in URIS if canonical_uri(uri) != uri}
    # One licence stands in that list under both orders of its parts; the later one is taken.
    assert odd == {
        "http://creativecommons.org/licenses/by-nd-nc/2.0/jp/": "http://creativecommons.org/licenses/by-nc-nd/2.0/jp/"
    }


def test_ports_are_those_of_the_list_and_a_few_from_memory() -> None:
    known = {(uri.split("/")[5], uri.split("/")[6]) for uri in URIS if "/licenses/" in uri}
    ours = {(version, place) for version, places in rights.PORTS.items() for place in places}
    assert known <= ours
    assert ours - known == {
        ("4.0", ""),  # of 2013, in the SPDX list
        ("3.0", "igo"),  # in the SPDX list
        *(("3.0", place) for place in "am az ca ch cn eg ge ie ug ve za".split()),  # from memory
    }


# --- what a person writes -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "uri"),
    [
        ("CC BY 4.0", "http://creativecommons.org/licenses/by/4.0/"),
        ("cc-by 4", "http://creativecommons.org/licenses/by/4.0/"),
        ("CC BY v4.0", "http://creativecommons.org/licenses/by/4.0/"),
        ("CC BY-NC-ND 1.0", "http://creativecommons.org/licenses/by-nd-nc/1.0/"),
        ("CC BY-NC-ND 4.0", "http://creativecommons.org/licenses/by-nc-nd/4.0/"),
        ("Creative Commons Attribution-NonCommercial-ShareAlike 4.0 International License",
         "http://creativecommons.org/licenses/by-nc-sa/4.0/"),
        ("Creative Commons Attribution-NoDerivs 2.5", "http://creativecommons.org/licenses/by-nd/2.5/"),
        ("CC BY-SA 3.0 DE", "http://creativecommons.org/licenses/by-sa/3.0/de/"),
        ("CC BY 3.0 AT", "http://creativecommons.org/licenses/by/3.0/at/"),
        ("CC0", rights.ZERO),
        ("CC0 1.0 Universal (CC0 1.0) Public Domain Dedication", None),  # says it twice, and is not guessed at
        ("CC0 1.0 (https://creativecommons.org/publicdomain/zero/1.0/)", rights.ZERO),
        ("Public domain", rights.MARK),
        ("Public Domain Mark 1.0", rights.MARK),
        ("in copyright", "http://rightsstatements.org/vocab/InC/1.0/"),
        ("In Copyright – Non‑Commercial Use Permitted", "http://rightsstatements.org/vocab/InC-NC/1.0/"),
        ("All rights reserved.", "http://rightsstatements.org/vocab/InC/1.0/"),
    ],
)  # fmt: skip
def test_words_name_a_statement(words: str, uri: str | None) -> None:
    assert canonical_uri(words) == uri


@pytest.mark.parametrize(
    "words",
    [
        "",
        " . ",
        "licence",
        "ask the museum first",
        "CC BY",  # which version?
        "Creative Commons",
        "not CC BY 4.0",
        "CC BY 4.0 but not for advertising",
        "© 2019 A. Name, CC BY 4.0",
        "Public domain, no known heirs",
        "CC BY-ND-SA 4.0",  # there is none
        "CC BY-BY 4.0",
        "CC BY 5.0",
        "CC BY 4.0 DE",  # 4.0 was not ported
        "https://creativecommons.org/licenses/by/4.0/de/",
        "https://creativecommons.org/licenses/by/4.0/ https://creativecommons.org/licenses/by-sa/4.0/",
        "In copyright (https://creativecommons.org/licenses/by/4.0/)",  # contradicts itself
        "https://creativecommons.org.example.net/licenses/by/4.0/",
        "https://example.net/?https://creativecommons.org/licenses/by/4.0/",
        "http://rightsstatements.org/vocab/InC/2.0/",
        "http://rightsstatements.org/vocab/Nonsense/1.0/",
        "InC Ltd",
        "CC BY 4.0 " * 100,
        "by " * 150,
        "\x00" * 40,
    ],
)
def test_free_words_name_none(words: str) -> None:
    assert canonical_uri(words) is None
