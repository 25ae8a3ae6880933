"""Distances and bearings against published geodesics."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import SiteRefused
from refarchive.site.distances import between, beyond, compass

DEGREES = st.floats(-80, 80)


def test_a_published_geodesic() -> None:
    """Flinders Peak to Buninyong, the worked example of Geoscience Australia (figures from memory): 54 972.271 m at
    306°52′05.37″; GRS 80 and WGS 84 differ here by less than a millimetre.
    """
    flinders = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
    buninyong = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
    metres, bearing = between(flinders, buninyong)
    assert metres == pytest.approx(54_972.271, abs=0.002)
    assert bearing == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.02 / 3600)
    back, home = between(buninyong, flinders)
    assert back == pytest.approx(metres)
    assert home == pytest.approx(127 + 10 / 60 + 25.07 / 3600, abs=0.02 / 3600)


def test_a_degree_on_the_equator_and_along_a_meridian() -> None:
    """WGS 84: a degree of longitude on the equator is 111 319.491 m, of latitude from it 110 574.389 m (NGA)."""
    assert between((0, 0), (0, 1)) == (pytest.approx(111_319.491, abs=0.01), pytest.approx(90))
    assert between((0, 0), (1, 0)) == (pytest.approx(110_574.389, abs=0.01), pytest.approx(0))


@given(DEGREES, st.floats(-180, 180), st.floats(0, 359), st.floats(1, 100_000))
def test_going_there_and_asking_again_agree(latitude: float, longitude: float, bearing: float, metres: float) -> None:
    found = between((latitude, longitude), beyond((latitude, longitude), bearing, metres))
    assert found[0] == pytest.approx(metres, abs=1e-3)
    assert (found[1] - bearing + 180) % 360 - 180 == pytest.approx(0, abs=0.1)


@pytest.mark.parametrize(
    ("bearing", "words"), [(0, "north"), (359, "north"), (11.3, "north-north-east"), (225, "south-west"), (270, "west")]
)
def test_bearings_have_names(bearing: float, words: str) -> None:
    assert compass(bearing) == words


@pytest.mark.parametrize("place", [(91, 0), (0, 181), (float("nan"), 0)])
def test_places_that_are_none_are_refused(place: tuple[float, float]) -> None:
    with pytest.raises(SiteRefused):
        between((0, 0), place)
