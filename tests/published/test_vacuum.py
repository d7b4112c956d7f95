"""Air pressure at a height against the standard atmosphere, and a vacuum read against it."""

import pytest

from inventory.core.vacuum import compute_air_pressure, compute_vacuum_share, tell_vacuum


@pytest.mark.parametrize(
    ("altitude_m", "pascals"), [(0, 101_325), (500, 95_461), (1_000, 89_875), (2_000, 79_495)]
)
def test_air_pressure_against_the_standard_atmosphere(altitude_m, pascals):
    """ICAO standard atmosphere, kPa by its formula (computed): 101.325, 95.461, 89.875, 79.495."""
    assert abs(compute_air_pressure(altitude_m) - pascals) <= 1


def test_a_vacuum_against_what_the_height_allows():
    """29.92 inHg = 101.325 kPa (memory): 27.5 inHg are 91.9 % at the sea, and 117 % of what 2,000 m give."""
    assert abs(compute_vacuum_share(275, 0)[0] - 9_191) <= 2
    assert compute_vacuum_share(299, 0)[0] in range(9_980, 10_000)
    share, working = compute_vacuum_share(275, 2_000)
    assert share > 10_000 and "More than the air there can give" in working.notes[0]


def test_it_is_told_beside_what_was_read():
    assert tell_vacuum(275, None).replace("\u00a0", " ") == "27.5 inHg"
    assert tell_vacuum(275, 500).replace("\u00a0", " ") == "27.5 inHg, 98 % of what 500 m allow"
