"""Heat that melts metal against handbook figures."""

from fractions import Fraction

import pytest

from inventory.core.melting import (
    Melt,
    compute_melt_heat,
    compute_melt_time,
    measure_power,
    rate_power,
)

STERLING = {"Ag": 9250, "Cu": 750}
BRONZE = {"Cu": 9000, "Sn": 1000}
G100 = 100_000


def test_fine_silver_against_the_sum_by_hand():
    """0.235 J/(g K) (CRC, memory) and 10 % more up to 962 C, 105 J/g to melt (engineering table, read)."""
    heat_j, _ = compute_melt_heat(Melt(G100, {"Ag": 1}, liquid_c=962))
    assert heat_j == round(100 * (Fraction("0.2585") * 942 + 105))


@pytest.mark.parametrize(
    ("element", "liquid_c", "molar_kj", "molar_g"),
    [("Ag", 962, "36.7", "107.87"), ("Cu", 1_085, "42.5", "63.55")],
)
def test_pure_metals_against_the_enthalpy_of_the_melt_in_a_table(element, liquid_c, molar_kj, molar_g):
    """H(liquid at the melting point) - H(25 C), kJ/mol: JANAF tables, from memory; within 5 %."""
    heat_j, _ = compute_melt_heat(Melt(G100, {element: 1}, liquid_c, room_c=25))
    table_j = Fraction(molar_kj) * 1000 / Fraction(molar_g) * 100
    assert abs(heat_j - table_j) < table_j * Fraction("0.05")


def test_sterling_and_bronze_by_their_parts():
    """Computed by hand from the handbook's figures: 0.24625 and 0.3692 J/(g K), 112.575 and 191.3 J/g."""
    silver, _ = compute_melt_heat(Melt(G100, STERLING, liquid_c=893, poured_c=968))
    assert silver == round(
        100 * (Fraction("0.24625") * (Fraction("1.1") * 873 + Fraction("1.3") * 75) + Fraction("112.575"))
    )
    bronze, working = compute_melt_heat(Melt(G100, BRONZE, liquid_c=999))
    assert bronze == round(100 * (Fraction("0.3692") * Fraction("1.1") * 979 + Fraction("191.3")))
    assert working.result == "58.9\u00a0kJ"
    assert bronze > silver, "bronze takes more heat than as much silver"


def test_the_minutes_are_heat_over_power_rounded_up():
    melt = Melt(G100, STERLING, liquid_c=893)
    # 34,905 J at 100 W are 349.05 s: six minutes, computed.
    assert compute_melt_time(melt, rate_power(1_000, 1_000), 20).minutes == 6
    # On the plate's word alone no melt is shorter than five minutes, our own guess.
    quick = compute_melt_time(melt, rate_power(100_000), 20)
    assert quick.minutes == 5 and "a guess of ours" in quick.origin


def test_melts_of_the_studios_own_are_taken_by_the_middle_one():
    assert measure_power([(30_000, 300), (30_000, 300)]) is None
    # 100, 125 and 25 W: the one that waited for its flask tells nothing.
    power = measure_power([(30_000, 300), (30_000, 240), (30_000, 1_200)])
    assert power.watts == 100 and power.origin == "3 melts of your own"


@pytest.mark.parametrize("power", [None, rate_power(1_000)])
def test_where_nobody_knows_the_studios_own_minutes_count(power):
    time = compute_melt_time(Melt(G100, {}), power, 20)
    assert time.minutes == 20 and "is not known" in time.working.formula
