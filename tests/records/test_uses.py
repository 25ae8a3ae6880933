"""What a reference may be used for, on what is recorded."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from refarchive.records.model import Reference
from refarchive.records.rights import LABELS, LICENCES, MARK, NOT_EVALUATED, STATEMENTS, ZERO, canonical_uri
from refarchive.records.uses import CAUTION, USES, standing

BARE = Reference("r", "image", "Low water", "a.jpg")
GROUNDED = replace(BARE, basis="a permission", basis_evidence="letter of 3 May, box 2", credit="Photo: A. Invented")
URIS = [f"{STATEMENTS}{code}/1.0/" for code in LABELS]
URIS += [f"http://creativecommons.org/licenses/{name}/4.0/" for name in LICENCES] + [ZERO, MARK]


def test_nothing_said_is_not_evaluated_and_has_no_basis() -> None:
    stands = standing(BARE)
    assert (stands.uri, stands.label, stands.given) == (NOT_EVALUATED, "Copyright Not Evaluated", "")
    assert (stands.may_be_published, stands.lacks) == ("no basis", ("a basis",))
    assert stands.statement.endswith("Nothing is recorded.")


@pytest.mark.parametrize("uri", [*URIS, "whatever the museum says"])
def test_no_statement_is_a_basis_by_itself(uri: str) -> None:
    stands = standing(replace(BARE, rights=uri, credit="Given"))
    assert stands.may_be_published == "no basis"
    assert stands.lacks == ("a basis",)
    assert "ask first" in stands.publication


@pytest.mark.parametrize("uri", URIS)
def test_no_word_promises_anything(uri: str) -> None:
    for reference in (BARE, GROUNDED):
        stands = standing(replace(reference, rights=uri))
        ours = " ".join((stands.study, stands.brief, stands.publication, stands.may_be_published, CAUTION))
        assert not re.search(r"\b(safe|safely|allowed|permitted|free to|legal to|may be used)\b", ours), ours
        for said in (stands.study, stands.brief):  # each leans on something: a statement, a licence, a law, an answer
            assert re.search(r"\b(statement|licence|law|laws|ask|mark|contract|vouches)\b", said), said


# Conditions as the statements define them: skos:definition and cc:prohibits in the RightsStatements.org data model,
# and the elements in the names of the Creative Commons licences.
@pytest.mark.parametrize("uri", URIS)
def test_conditions_follow_the_statement(uri: str) -> None:
    stands = standing(replace(GROUNDED, rights=uri))
    told = " ".join(stands.conditions)
    part = set(re.sub(r".*/(?:vocab|licenses)/", "", uri).partition("/")[0].lower().split("-"))
    licence = "/licenses/" in uri
    assert ("commercial" in told) == ("nc" in part), told
    assert ("unaltered" in told) == ("nd" in part), told
    assert ("same licence" in told) == ("sa" in part), told
    assert ("credit line" in told) == licence, told
    assert ("educational" in told) == ("edu" in part), told
    assert ("contract" in told) == ("cr" in part), told
    assert ("other laws" in told) == ("oklr" in part), told
    assert ("United States" in told) == ("us" in part), told
    assert ("search" in told) == bool(part & {"ow", "ruu"}), told
    assert stands.may_be_published == (f"only with {'; '.join(stands.conditions)}" if told else "yes, on this basis")
    assert all(condition in stands.publication for condition in stands.conditions)
    if "nc" in part:
        assert "commercial" in stands.brief
        assert "commercial" in stands.study


def test_a_basis_says_where_it_can_be_read() -> None:
    stands = standing(replace(GROUNDED, basis_evidence=" "))
    assert stands.lacks == ("evidence of the basis",)
    assert stands.may_be_published == "only with evidence of the basis"
    whole = standing(GROUNDED)
    assert whole.may_be_published == "yes, on this basis"
    assert "on this basis: a permission (letter of 3 May, box 2)" in whole.words


def test_a_licence_that_asks_for_credit_lacks_it_without() -> None:
    for rights, lacks in (("CC BY 4.0", ("a credit line",)), ("CC0", ()), ("InC", ())):
        assert standing(replace(GROUNDED, rights=rights, credit="")).lacks == lacks


def test_the_credit_line_is_verbatim() -> None:
    credit = "  © The Keeper’s Room – “Gift of N.”\n(no. 3)  "
    assert standing(replace(BARE, credit=credit)).credit_line == credit
    assert standing(replace(BARE, credit=credit)).as_dict()["credit_line"] == credit


def test_free_words_stay_as_written() -> None:
    words = "May be shown in talks; ask Mrs Invented for more"
    stands = standing(replace(GROUNDED, rights=words))
    assert (stands.uri, stands.label, stands.statement) == ("", words, f"{words}.")
    assert stands.as_dict()["uri"] is None
    assert stands.may_be_published == "only with what its own words ask for"


def test_a_licence_without_its_version_is_asked_for_it() -> None:
    assert "without its version" in standing(replace(BARE, rights="CC BY-SA")).statement
    assert "without its version" not in standing(replace(BARE, rights="CC BY-SA 4.0")).statement
    assert "without its version" not in standing(replace(BARE, rights="ask the museum")).statement


def test_json_has_every_use() -> None:
    document = standing(GROUNDED).as_dict()
    assert tuple(document["uses"]) == USES
    assert document["caution"].startswith("No legal advice.")
    assert canonical_uri(document["uri"]) == document["uri"]
