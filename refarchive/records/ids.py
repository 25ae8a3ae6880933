"""Ids of records: short, made of what the record is, so that the same thing gathered twice has the same id."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from refarchive.records.model import Region


def _digest(*parts: object, length: int = 12) -> str:
    text = json.dumps(parts, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:length]


def reference_id(sha256: str) -> str:
    """Id of a reference that has a file, from the file's SHA-256 (64 hex digits)."""
    return f"ref-{sha256[:12]}"


def object_id(identity: Sequence[str]) -> str:
    """Id of an object record without a file, from the fields that tell it from others."""
    return f"ref-{_digest('object', *identity)}"


def passage_id(reference: str, number: int) -> str:
    """Id of the `number`-th passage (from 1) of a text reference."""
    return f"{reference}.p{number}"


def detail_id(reference: str, region: Region) -> str:
    """Id of a marked region; the same region marked twice (to a ten-thousandth) is the same detail."""
    return f"{reference}.d{_digest(*(round(v, 4) for v in region), length=8)}"


def frame_id(scene: str, sha256: str) -> str:
    """Id of a frame shot for a scene."""
    return f"frame-{_digest(scene, sha256)}"


def family_id(references: Sequence[str]) -> str:
    """Id of a family when it is first confirmed, from its members then; it keeps it when members come and go."""
    return f"family-{_digest(*references, length=8)}"


def sitting_id(scene: str, began: str, criterion: str, viewer: str) -> str:
    """Id of a sitting."""
    return f"sitting-{_digest(scene, began, criterion, viewer)}"


def print_id(frame: str, sheet: str) -> str:
    """Id of the work print of a frame on a sheet."""
    return f"print-{_digest(frame, sheet, length=8)}"
