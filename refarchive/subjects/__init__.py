"""What pictures are about: Iconclass, read from the data that the `iconclass` package carries.

Iconclass (H. van de Waal, completed by L. D. Couprie, E. Tholen and G. Vellekoop, Amsterdam 1972-1985; kept since by
E. Posthumus and J. P. J. Brandhorst, https://iconclass.org) sorts what can be seen in pictures into a tree of some
40,000 notations. A reference keeps a subject as "25F72 molluscs": the notation, a space, words. The notation counts.
"""

from __future__ import annotations

from refarchive.subjects.stored import as_subject, codes_in, holds, notation_asked
from refarchive.subjects.suggesting import Suggestion, suggest
from refarchive.subjects.tree import (
    Notation,
    all_above,
    ancestors,
    children,
    is_under,
    nearest,
    notation,
    top,
    wider,
)

__all__ = [
    "Notation",
    "Suggestion",
    "all_above",
    "ancestors",
    "as_subject",
    "children",
    "codes_in",
    "holds",
    "is_under",
    "nearest",
    "notation",
    "notation_asked",
    "suggest",
    "top",
    "wider",
]
