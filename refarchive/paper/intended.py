"""What a picture is intended to look like, in words and figures: each target with its tolerance."""

from __future__ import annotations

from refarchive.paper.blocks import FactValue
from refarchive.records.model import Intent


def intended(intent: Intent) -> list[tuple[str, FactValue]]:
    """Names and words of every target that is set, in the order of a check; colours stand apart as swatches."""
    rows: list[tuple[str, FactValue]] = [("In words", intent.words), ("Light from", intent.light_from)]
    if intent.light_tilt_deg is not None:
        turned = f"{intent.light_tilt_deg:g}° (0° from the right, 90° from above)"
        rows.append(("Its direction in the picture", f"{turned}, give or take {intent.light_tolerance_deg:g}°"))
    if intent.lit_to_shadow is not None:
        give = intent.lit_to_shadow_tolerance
        rows.append(("Lit side to shadow side", f"{intent.lit_to_shadow:g} stops, give or take {give:g}"))
    if intent.key is not None:
        rows.append(("Key", f"median L* {intent.key:g}, give or take {intent.key_tolerance:g}"))
    if intent.contrast is not None:
        spread = f"L* {intent.contrast:g} from the 5th to the 95th percentile"
        rows.append(("Contrast", f"{spread}, give or take {intent.contrast_tolerance:g}"))
    if intent.warmth_k is not None:
        give = intent.warmth_tolerance_mired
        rows.append(("Warmth", f"{intent.warmth_k:g} K over the whole picture, give or take {give:g} mired"))
    if intent.horizon is not None:
        where = f"{100 * intent.horizon:g} % of the height from the top"
        rows.append(("Horizon", f"{where}, give or take {100 * intent.horizon_tolerance:g} %"))
    for name, most in (("Blown out", intent.blown_most), ("Blocked up", intent.blocked_most)):
        if most is not None:
            rows.append((name, f"at most {100 * most:g} % of the picture"))
    if intent.layout_least is not None:
        rows.append(("Light and dark", f"laid out as in the pictures below, by {intent.layout_least:g} or more of 1"))
    return rows
