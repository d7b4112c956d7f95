"""Heat that melts metal against handbook figures."""

from dataclasses import replace
from fractions import Fraction

import pytest

from inventory.core.melting import (
    ELEMENT_HEAT,
    ELEMENT_MELTS_C,
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


MOLAR = {
    "Ag": ("107.868", "25.35", "11.3", "961.78"),
    "Au": ("196.967", "25.42", "12.36", "1064.18"),
    "Cu": ("63.546", "24.44", "13.1", "1084.62"),
    "Pd": ("106.42", "25.98", "16.74", "1554.8"),
    "Pt": ("195.084", "25.86", "22.17", "1768.2"),
    "Si": ("28.0855", "19.79", "50.21", "1414"),
    "Sn": ("118.71", "26.99", "7.03", "231.928"),
    "Zn": ("65.38", "25.39", "7.32", "419.527"),
}


@pytest.mark.parametrize("element", MOLAR)
def test_each_element_against_a_handbooks_molar_figures(element):
    """g/mol, J/(mol K) at 25 C, kJ/mol of melting: CRC Handbook; melting points: ITS-90; all of them from memory."""
    molar_g, heat, melting, melts_c = map(Fraction, MOLAR[element])
    assert ELEMENT_HEAT[element] == (round(heat / molar_g * 1000), round(melting / molar_g * 1000))
    assert ELEMENT_MELTS_C[element] == round(melts_c)


def plain(text):
    return text.replace("\u00a0", " ")


def test_the_heat_can_be_followed_line_by_line():
    """Sterling, by hand: 0.24625 J/(g K), 112.575 J/g, from 20 up to 893 and on to 963 C."""
    _, working = compute_melt_heat(Melt(G100, STERLING, liquid_c=893, poured_c=963))
    assert [plain(f"{given.label}: {given.value}") for given in working.givens] == [
        *("charge: 100.00 g", "Ag in it: 92.5 %", "Cu in it: 7.5 %", "liquid from: 893 °C")
    ]
    assert [plain(f"{step.text} = {step.result}") for step in working.steps] == [
        "specific heat at 25 °C, by its elements = 0.246 J/(g K)",
        "up to 893 °C: 0.246 × 110 % × 873 = 236.5 J/g",
        "latent heat, by its elements = 112.6 J/g",
        "70 degrees hotter: 0.246 × 130 % × 70 = 22.4 J/g",
        "100.00 g × 371.5 J/g = 37.1 kJ",
    ]
    assert plain(compute_melt_heat(Melt(10 * G100, STERLING, 893, 963))[1].result) == "371.5 kJ"


def test_an_alloy_without_a_melting_point_takes_that_of_its_elements_and_a_cool_pour_takes_no_heat_back():
    """By parts: 0.925 of 962 C and 0.075 of 1,085 C are 971 C."""
    reckoned, _ = compute_melt_heat(Melt(G100, STERLING))
    told, _ = compute_melt_heat(Melt(G100, STERLING, liquid_c=971, poured_c=900))
    assert reckoned == told
    with pytest.raises(ValueError, match="Xx"):
        compute_melt_heat(Melt(G100, {"Xx": 10_000, "Ag": -1}))


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
    assert (quick.working.steps[-1].text, quick.working.result) == (
        "no melt is reckoned shorter than",
        "5\u00a0min",
    )
    *_, last = compute_melt_time(melt, rate_power(1_000, 1_000), 20).working.steps
    assert (plain(last.text), plain(last.result)) == ("34.9 kJ ÷ 100 W", "5 min 50 s")
    # A melter that never gets there is at it for half a day and no longer.
    assert compute_melt_time(replace(melt, mass_mg=2 * G100), rate_power(1, 1), 20).minutes == 12 * 60


def test_a_plate_without_a_share_gives_a_fifth_and_never_nothing():
    """A fifth is a guess of ours."""
    assert [power and power.watts for power in (rate_power(None), rate_power(1_500), rate_power(1, 1))] == [
        *(None, 300, 1)
    ]
    assert plain(rate_power(1_500).steps[0].text) == "1,500 W × 20 %"


def test_melts_of_the_studios_own_are_taken_by_the_middle_one():
    assert measure_power([(30_000, 300), (30_000, 300)]) is None
    # 100, 125 and 25 W: the one that waited for its flask tells nothing.
    power = measure_power([(30_000, 300), (30_000, 240), (30_000, 1_200)])
    assert power.watts == 100 and power.origin == "3 melts of your own"
    # What was measured may be quick; a melt without its seconds, or without heat, tells nothing.
    assert compute_melt_time(Melt(1_000, STERLING), power, 20).minutes == 1
    assert measure_power([(30_000, 300), (30_000, 240), (30_000, 0), (0, 60), (30_000, -5)]) is None


@pytest.mark.parametrize(
    ("power", "what"), [(None, "the melter's power"), (rate_power(1_000), "what the alloy is made of")]
)
def test_where_nobody_knows_the_studios_own_minutes_count(power, what):
    time = compute_melt_time(Melt(G100, {}), power, 20)
    assert time.minutes == 20 and f"{what} is not known" in time.working.formula
