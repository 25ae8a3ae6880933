"""Tables of constituents as people paste them: read as they stand, or refused with row and field."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import SiteRefused
from refarchive.site.constituents import NAMES, named
from refarchive.site.pasted import read_constituents
from refarchive.site.tide import Constituent

TWO = (Constituent("M2", 1.063, 10.8), Constituent("LAM2", 0.02, 49.9))


@pytest.mark.parametrize(
    "text",
    [
        "name, amplitude, phase\nM2, 1.063, 10.8\nlambda2, .02, 49.9",
        "M2\t1.063\t10.8\nLAM2\t0.020\t49.9",
        "M2 1,063 10,8\r\nLAM2 0,020 49,9\r\n",
        "# Seattle\nM2; 1,063; 10,8\n\nLDA2; 0,02; 49,9°",
        "M2 ,1.063 ,10.8\nλ2 ,0.020 ,49.9",
        "M2 1.063 10.8 28.984 Principal lunar, semidiurnal\nLAM2 0.020 49.9 29.456 Smaller lunar, evectional",
        "1,M2,1.063,10.8,28.984104,Principal lunar\n35,LAM2,0.02,49.9,29.455626,Smaller lunar evectional",
        "Constituent #\tName\tAmplitude\tPhase\tSpeed\n1\tM2\t1.063\t10.8\t28.984\n35\tLAM2\t0.020\t49.9\t29.456",
        "Name;g (°);H (m)\nM2;10.8;1.063\nLAM2;49.9;0.02",
        "Phase_local,Phase_GMT,Constituent,Amplitude\n138.9,10.8,M2,1.063\n174.3,49.9,LAM2,0.02",
        "constituent amp [cm] phase\nM2 106.3 10.8\nLAM2 2.0 49.9",
        "# name, amplitude (mm), phase\nM2, 1063, 10.8\nLAM2, 20, 49.9",
    ],
)
def test_pasted_tables_are_read(text: str) -> None:
    found = read_constituents(text)
    assert [one.name for one in found] == [one.name for one in TWO]
    assert [(one.amplitude_m, one.phase_deg) for one in found] == [
        (pytest.approx(one.amplitude_m), pytest.approx(one.phase_deg)) for one in TWO
    ]


@pytest.mark.parametrize(("unit", "metres"), [("", 3.0), ("m", 3.0), ("cm", 0.03), ("ft", 0.9144), ("feet", 0.9144)])
def test_amplitudes_in_a_unit_become_metres(unit: str, metres: float) -> None:
    """The international foot is 0.3048 m exactly (1959 agreement)."""
    assert read_constituents("M2; 3; 10", unit)[0].amplitude_m == pytest.approx(metres)
    if unit:
        assert read_constituents(f"name; amplitude ({unit}); phase\nM2; 3; 10")[0].amplitude_m == pytest.approx(metres)


@pytest.mark.parametrize(
    ("text", "field", "words"),
    [
        ("M2, 1.063", "constituents, row 1, phase", "is missing"),
        ("M2;;10.8;28.98", "constituents, row 1, amplitude", "is missing"),
        ("M2,1.063,,28.98", "constituents, row 1, phase", "is missing"),
        ("M2 1 2\n\n# later\nS2 x 3", "constituents, row 4, amplitude", "“x” is not a figure"),
        ("M2,?,?\nS2,1,2", "constituents, row 1, amplitude", "“[?]” is not a figure"),
        ("M2 1 nan", "constituents, row 1, phase", "not a figure"),
        ("M2 1_0 3", "constituents, row 1, amplitude", "not a figure"),
        ("M2 1 2\nQQ 1 2", "constituents, row 2, name", "no constituent “QQ”"),
        ("M2 1 2\nMSM 1 2", "constituents, row 2, name", "no constituent “MSM”"),
        ("M2 1 2\n\nm2 1 2", "constituents, row 3", "M2 stands twice, in row 1 too"),
        ("M2 -1 5", "constituents, row 1 (M2), amplitude_m", "−1 lies outside"),
        ("M2 1 999", "constituents, row 1 (M2), phase_deg", "999 lies outside"),
        ("M2,1,063,10,8", "constituents, row 1, phase", "063 may be the rest"),
        ("M2,1,163,10,8", "constituents, row 1", "10 is one figure too many"),
        ("M2, 1,163, 10,8", "constituents, row 1", "10 is one figure too many"),
        ("name,amp,phase\nM2,1,163,10,8", "constituents, row 2", "more cells than the heading"),
        ("name,amp,phase,speed\nM2,1,163,10", "constituents, row 2", "or not the speed of M2"),
        ("M2 1.063 10.8 30.0", "constituents, row 1", "or not the speed of M2, 28.984"),
        ("name; phase\nM2; 1", "constituents, row 1", "heading that says which is the amplitude"),
        ("name; amp; phase; phase\nM2; 1; 2; 3", "constituents, row 1", "2 columns for the phase"),
        ("name phase amp\nM2 1 2", "constituents, row 1", "another order"),
        ("name; amp; phase", "constituents", "no row"),
        ("\n# nothing\n", "constituents", "there are none"),
        ("M2 1 2\n" * 501, "constituents", "longer than 500 rows"),
        ("x" * 50_001, "constituents", "50000 characters"),
    ],
)
def test_what_can_be_read_in_two_ways_or_none_is_refused(text: str, field: str, words: str) -> None:
    with pytest.raises(SiteRefused, match=words) as refused:
        read_constituents(text)
    assert refused.value.field == field
    assert refused.value.next_step


@pytest.mark.parametrize(
    ("heading", "unit", "words"), [("m", "ft", "the heading says m, and ft"), ("m", "yd", "none of them")]
)
def test_units_that_disagree_are_refused(heading: str, unit: str, words: str) -> None:
    with pytest.raises(SiteRefused, match=words) as refused:
        read_constituents(f"name; amplitude ({heading}); phase\nM2; 3; 10", unit)
    assert refused.value.field == "unit"


@given(
    st.lists(
        st.tuples(st.sampled_from(NAMES), st.integers(0, 9_999), st.integers(0, 3_599)),
        min_size=1, max_size=37, unique_by=lambda row: row[0],
    ),
    st.sampled_from(["; .", "; ,", "\t.", "\t,", ", .", ",.", " .", " ,"]),
)  # fmt: skip
def test_every_table_of_three_columns_comes_back(rows: list[tuple[str, int, int]], how: str) -> None:
    sign, point = how[:-1], how[-1]
    lines = [sign.join([name, f"{a / 1_000:.3f}".replace(".", point), f"{g / 10:.1f}".replace(".", point)])
             for name, a, g in rows]  # fmt: skip
    assert [(one.name, one.amplitude_m, one.phase_deg) for one in read_constituents("\n".join(lines))] == [
        (name, a / 1_000, g / 10) for name, a, g in rows
    ]


@pytest.mark.parametrize(
    ("given_", "name"),
    [
        ("lambda2", "LAM2"), ("LDA2", "LAM2"), ("λ2", "LAM2"), ("rho1", "RHO"), ("ρ1", "RHO"), ("ν2", "NU2"),
        ("µ2", "MU2"), ("m(2)", "M2"), ("MSf", "MSF"), ("2n2", "2N2"),
    ],
)  # fmt: skip
def test_other_spellings_are_known(given_: str, name: str) -> None:
    assert named(given_) == name
