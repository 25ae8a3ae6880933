"""What a reference may be used for, on what is recorded of its rights: study, the brief for the crew, publication.

Our words on what each statement says of itself. Nothing here is a verdict: a statement is what somebody recorded, and
publication always asks for a basis that a person entered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from refarchive.records.model import Reference
from refarchive.records.rights import MARK, NOT_EVALUATED, ZERO, canonical_uri, code_of, label_of, licence_of

CAUTION = (
    "No legal advice. Laws differ by country, and other rights may hold beside copyright: privacy, likeness, moral "
    "rights, the conditions of whoever keeps or lent the thing. A statement says what was recorded, not that it is "
    "right. Where in doubt, ask, and keep the answer."
)
USES = ("research and private study", "in the brief for the crew", "publication")

_BY_LAW = "as far as the law where you work provides"
_ASK_UNLESS = "ask first, unless the law where you work provides for it"
_KEEPER = "whoever made it available"

# By code: research and private study, the brief for the crew. Our words on what each statement's definition says.
_WORDS = {
    "InC": (_BY_LAW, "ask the rights-holder, unless the law where you work provides for it"),
    "InC-OW-EU": (_BY_LAW, _ASK_UNLESS),
    "InC-RUU": (_BY_LAW, _ASK_UNLESS),
    "InC-EDU": (
        "by its statement without asking where it is educational; else as far as the law where you work provides",
        "ask the rights-holder; a brief for a shoot is not plainly educational",
    ),
    "InC-NC": (
        "by its statement without asking where it is not commercial",
        "by its statement without asking where the work is not commercial; else ask the rights-holder",
    ),
    "NoC-NC": (
        "by its statement without asking where it is not commercial",
        f"by its statement without asking where the work is not commercial; else ask {_KEEPER}",
    ),
    "NoC-CR": ("within the contract that binds its keeper", "ask its keeper what the contract lets through"),
    "NoC-OKLR": ("within the other laws known to restrict it", "ask its keeper which laws restrict it"),
    "NoC-US": (
        "by its statement without asking in the United States; elsewhere as far as the law provides",
        "by its statement without asking in the United States; elsewhere ask, or find out when its term ended",
    ),
    "NKC": (
        "no copyright is known of, and nobody vouches for it",
        f"no copyright is known of; if in doubt ask {_KEEPER}",
    ),
    "CNE": (_BY_LAW, _ASK_UNLESS),
    "UND": (_BY_LAW, _ASK_UNLESS),
}
_CONDITIONS = {
    "InC-OW-EU": ("the record of the search for its rights-holder",),
    "InC-RUU": ("the record of the search for its rights-holder",),
    "InC-EDU": ("an educational use, or the rights-holder's permission for another",),
    "InC-NC": ("a use that is not commercial, or the rights-holder's permission for another",),
    "NoC-NC": (f"a use that is not commercial, or the terms of {_KEEPER}",),
    "NoC-CR": ("the limits of the contract that binds its keeper",),
    "NoC-OKLR": ("the limits of the other laws known to restrict it",),
    "NoC-US": ("a look at the law of every country but the United States",),
}


@dataclass(frozen=True)
class RightsStanding:
    """What is recorded of the rights in one reference, and what follows. All of it is what people entered or stated.

    `uri` is that of the statement, "" where free words stand for it. `credit_line` is verbatim. `lacks` names what must
    be recorded before it can go out, `conditions` what holds when it does.
    """

    uri: str
    label: str
    given: str  # as entered, "" where nothing was said
    credit_line: str
    basis: str
    evidence: str
    lacks: tuple[str, ...]
    conditions: tuple[str, ...]
    may_be_published: str  # "yes, on this basis", "no basis", or "only with …"
    study: str
    brief: str
    publication: str

    @property
    def statement(self) -> str:
        """Label and URI, or the words as entered; with what was entered beside them where it says it differently."""
        named = f"{self.label} ({self.uri})" if self.uri else self.label
        if not self.given:
            return f"{named}. Nothing is recorded."
        if canonical_uri(self.given):
            return named
        return f"{named if named.endswith('.') else f'{named}.'} {_versionless(self.given)}".strip()

    @property
    def uses(self) -> tuple[tuple[str, str], ...]:
        """(use, what is said of it), in the order of `USES`."""
        return tuple(zip(USES, (self.study, self.brief, self.publication), strict=True))

    @property
    def words(self) -> str:
        """Everything in one paragraph, without the caution."""
        uses = " ".join(f"{use.capitalize()}: {said}." for use, said in self.uses)
        credit = f" Credit line: {self.credit_line}" if self.credit_line else ""
        return f"{self.statement.rstrip('.')}. {uses}{credit}"

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "uri": self.uri or None,
            "label": self.label,
            "given": self.given,
            "statement": self.statement,
            "credit_line": self.credit_line,
            "basis": self.basis,
            "basis_evidence": self.evidence,
            "may_be_published": self.may_be_published,
            "lacks": list(self.lacks),
            "conditions": list(self.conditions),
            "uses": dict(self.uses),
            "caution": CAUTION,
        }


def standing(reference: Reference) -> RightsStanding:
    """What is recorded of a reference's rights, and what it may be used for on that record.

    Nothing said is "Copyright Not Evaluated". Publication always needs a basis, and where that can be read: a statement
    alone says how a thing stands, not why anyone may rely on it.
    """
    given = reference.rights.strip()
    uri = canonical_uri(given) if given else NOT_EVALUATED
    basis, evidence = reference.basis.strip(), reference.basis_evidence.strip()
    study, brief, conditions = _terms(uri)
    lacks = [] if basis else ["a basis"]
    if basis and not evidence:
        lacks.append("evidence of the basis")
    if licence_of(uri) and not reference.credit.strip():
        lacks.append("a credit line")
    if not basis:
        may = "no basis"
    elif lacks or conditions:
        may = f"only with {'; '.join((*lacks, *conditions))}"
    else:
        may = "yes, on this basis"
    return RightsStanding(
        uri=uri or "",
        label=label_of(uri) if uri else given,
        given=given,
        credit_line=reference.credit,
        basis=basis,
        evidence=evidence,
        lacks=tuple(lacks),
        conditions=conditions,
        may_be_published=may,
        study=study,
        brief=brief,
        publication=_publication(basis, evidence, tuple(lacks), conditions),
    )


def _terms(uri: str | None) -> tuple[str, str, tuple[str, ...]]:
    """What is said of study, of the brief, and the conditions of publication."""
    if uri == ZERO:
        said = "by its statement without asking"
        return said, said, ()
    if uri == MARK:
        return (
            "by its mark free of known copyright",
            f"by its mark free of known copyright; if in doubt ask {_KEEPER} for which countries",
            (),
        )
    if code := code_of(uri):
        return (*_WORDS[code], _CONDITIONS.get(code, ()))
    parts = licence_of(uri)
    if not parts:
        return (
            f"as those words say; else {_BY_LAW}",
            f"as those words say; else {_ASK_UNLESS}",
            ("what its own words ask for",),
        )
    commercial = " and no commercial use" if "nc" in parts else ""
    whole = "; whole and unaltered, ask before handing on a crop" if "nd" in parts else ""
    conditions = ["the credit line and the licence named beside it"]
    if "nd" in parts:
        conditions.append("the picture whole and unaltered")
    else:
        conditions.append("a note of any change made")
    if "nc" in parts:
        conditions.append("no commercial use")
    if "sa" in parts:
        conditions.append("the same licence on whatever is made from it")
    return (
        f"by its licence, with credit{commercial}",
        f"by its licence, with the credit line{commercial}{whole}",
        tuple(conditions),
    )


def _publication(basis: str, evidence: str, lacks: tuple[str, ...], conditions: tuple[str, ...]) -> str:
    if not basis:
        return "no basis is recorded; ask first, and keep the answer"
    parts = [f"on this basis: {basis}" + (f" ({evidence})" if evidence else "")]
    if lacks:
        parts.append(f"still lacking {' and '.join(lacks)}")
    if conditions:
        parts.append(f"only with {', '.join(conditions)}")
    return "; ".join(parts)


def _versionless(given: str) -> str:
    """A hint for a licence that was named without its version."""
    if canonical_uri(f"{given} 4.0") is None:
        return ""
    return "A licence is named without its version; add it, as in CC BY 4.0."
