"""Sources in a dossier: one entry for each reference that is cited."""

from __future__ import annotations

from collections.abc import Sequence

from refarchive.paper import blocks
from refarchive.paper.blocks import Plate
from refarchive.paper.citing import Citations, alternative, archival_caption, date_of, rights_facts
from refarchive.records.model import Need, Reference
from refarchive.scenes.mediums import cautions


def source_entry(reference: Reference, cite: Citations, needs: Sequence[Need], key_reference: str) -> Plate:
    """A reference as the section on sources has it: small, with what is known of it and what it is cited for."""
    number = cite.number(reference.id)
    date = date_of(reference)
    if reference.when and reference.when.edtf and reference.when.edtf != date:
        date += f" (EDTF {reference.when.edtf})"
    used: dict[str, list[str]] = {}
    for need in needs:
        for evidence in need.evidence:
            if evidence.reference == reference.id:
                own = cite.number_of(evidence).removeprefix(number)
                own = own.removeprefix(", ") if own.startswith(",") else own.replace("\u00a0", "detail\u00a0")
                used.setdefault(f"{need.name} ({evidence.relation})", []).extend([own] if own else [])
    cited_for = [f"{name}: {', '.join(dict.fromkeys(own))}" if own else name for name, own in used.items()]
    if reference.id == key_reference:
        cited_for.insert(0, "key reference of the scene")
    facts = blocks.facts(
        [
            ("Witness", reference.witness.value),
            ("Date", date),
            ("Place", reference.place),
            ("Source", reference.source or "Not recorded."),
            *rights_facts(reference),
            ("Caution", " ".join(cautions(reference))),
            ("Identifier", reference.identifier),
            ("Cited for", "; ".join(cited_for)),
            ("In the archive", ", ".join(x for x in (reference.source_name, reference.id) if x)),
        ]
    )
    picture = cite.picture(reference.id, small=True)
    return blocks.plate(
        picture,
        number,
        archival_caption(reference, credit=False),
        alternative(reference, number),
        size="small",
        beside=[facts],
    )
