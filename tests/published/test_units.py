"""Units of mass, volume and length against their legal definitions.

Exact by definition: the international yard and pound agreement of 1959 for grain, pound and inch; the US gallon
of 231 cubic inches for the fluid ounce. The figures are those `pint` gives with exact decimals.
"""

from decimal import Decimal

import pytest

from studio.kit.measures import LENGTH, MASS, VOLUME


@pytest.mark.parametrize(
    ("unit", "milligrams"),
    [
        ("gr", "64.79891"),
        ("dwt", "1555.17384"),
        ("ozt", "31103.4768"),
        ("oz av", "28349.523125"),
        ("lb", "453592.37"),
    ],
)
def test_mass_units_are_the_legal_ones(unit, milligrams):
    assert MASS.factors[unit] == Decimal(milligrams)


def test_the_trade_units_nest_exactly():
    assert MASS.factors["dwt"] == 24 * MASS.factors["gr"]
    assert MASS.factors["ozt"] == 20 * MASS.factors["dwt"] == 480 * MASS.factors["gr"]
    assert MASS.factors["lb"] == 16 * MASS.factors["oz av"] == 7000 * MASS.factors["gr"]


def test_an_inch_is_exactly_25_4_mm():
    assert LENGTH.factors["in"] == Decimal("25400")


def test_the_us_fluid_ounce_is_a_128th_of_231_cubic_inches():
    assert (
        VOLUME.factors["fl oz"]
        == Decimal("29573.5295625")
        == Decimal(231) * Decimal("2.54") ** 3 * 1000 / 128
    )
