from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

import pytest

from studio.kit import measures, printing
from studio.kit.printing import MINUS, NOTHING, SPACE


def plain(text):
    return text.replace(SPACE, " ")


@pytest.mark.parametrize(
    ("mass_mg", "printed"),
    [
        (12_410, "12.41 g"),
        (850, "0.85 g"),
        (214_600, "214.60 g"),
        (5_000, "5.00 g"),
        (12_345, "12.345 g"),
        (1, "0.001 g"),
        (0, "0.00 g"),
        (1_020_000, "1,020 g"),
        (1_020_500, "1,020.50 g"),
        (1_234_567_891, "1,234,567.891 g"),
        (-760, f"{MINUS}0.76 g"),
    ],
)
def test_masses_keep_every_milligram(mass_mg, printed):
    assert plain(printing.print_mass(mass_mg)) == printed


@pytest.mark.parametrize(
    ("masses_mg", "printed"),
    [
        ((30_890, 30_364), ["30.890 g", "30.364 g"]),
        ((30_890, 5_000), ["30.89 g", "5.00 g"]),
        ((2_000_000, 1_900_000), ["2,000 g", "1,900 g"]),
        ((6_240_000, 453_682), ["6,240.000 g", "453.682 g"]),
    ],
)
def test_weights_that_are_told_side_by_side_have_as_many_decimals(masses_mg, printed):
    assert [plain(printing.print_alike(masses_mg)(mass_mg)) for mass_mg in masses_mg] == printed


def test_a_unit_never_parts_from_its_number():
    assert " " not in printing.print_mass(1_000) + printing.print_minutes(450) + printing.print_day(
        date(2026, 12, 7)
    )


@pytest.mark.parametrize(
    ("mass_mg", "printed"),
    [(3_860_000, "3.86 kg"), (999_990, "999.99 g"), (1_000_000, "1.00 kg"), (12_345_000, "12.35 kg")],
)
def test_powder_is_told_in_kilograms(mass_mg, printed):
    assert plain(printing.print_bulk(mass_mg)) == printed


@pytest.mark.parametrize(
    ("quantity", "unit", "printed"),
    [
        (1_400_239, "mass", "1,400 g"),
        (12_496, "mass", "12 g"),
        (9_996, "mass", "10 g"),
        (4_239, "mass", "4.2 g"),
        (Fraction(1000, 3), "mass", "0.33 g"),
        (0, "mass", "0 g"),
        (-4_239, "mass", "−4.2 g"),
        (182_346, "volume", "182 ml"),
        (Fraction(1, 4), "items", "0.25 items"),
        (Decimal("0.999"), "items", "1 item"),
        (12, "items", "12 items"),
    ],
)
def test_an_estimate_has_no_digits_that_say_nothing(quantity, unit, printed):
    assert plain(printing.print_about(quantity, unit)) == printed


def test_an_estimate_of_an_unknown_unit_is_a_mistake_in_the_program():
    with pytest.raises(ValueError, match="no such unit"):
        printing.print_about(1, "length")
    assert printing.print_about(None, "mass") == NOTHING


def test_fine_metal_is_told_to_the_milligram():
    assert plain(printing.print_fine(11_479_250)) == "11.479 g"


def test_fineness_is_never_flattered():
    assert printing.print_fineness(924_999, 1_000) == "924.99"
    assert printing.print_fineness(92_500_000, 100_000) == "925"
    assert printing.print_fineness(0, 0) == NOTHING


@pytest.mark.parametrize(
    ("quantity", "unit", "printed"),
    [
        (12_410, "mass", "12.41 g"),
        (182_000, "volume", "182 ml"),
        (500, "volume", "0.5 ml"),
        (1, "items", "1 item"),
        (1_200, "items", "1,200 items"),
    ],
)
def test_stock_is_told_in_its_own_unit(quantity, unit, printed):
    assert plain(printing.print_quantity(quantity, unit)) == printed


def test_an_unknown_unit_of_stock_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="no such unit"):
        printing.print_quantity(1, "yards")


@pytest.mark.parametrize(
    ("micro", "decimals", "printed"),
    [
        (1_234_500_000, 2, "1,234.50"),
        (5_000, 2, "0.01"),
        (4_999, 2, "0.00"),
        (-4_999, 2, "0.00"),
        (-5_000, 2, f"{MINUS}0.01"),
        (847_285, 4, "0.8473"),
        (1_500_000, 0, "2"),
    ],
)
def test_money_is_rounded_half_up_once(micro, decimals, printed):
    assert printing.print_money(micro, decimals) == printed


@pytest.mark.parametrize(
    ("minutes", "printed"),
    [(450, "7 h 30 min"), (120, "2 h"), (45, "45 min"), (0, "0 min"), (-90, f"{MINUS}1 h 30 min")],
)
def test_lengths_of_time(minutes, printed):
    assert plain(printing.print_minutes(minutes)) == printed


@pytest.mark.parametrize(
    ("printed", "expected"),
    [
        (printing.print_percent(250), "2.5 %"),
        (printing.print_percent(1_000), "10 %"),
        (printing.print_length(75_000), "75 mm"),
        (printing.print_length(76_200), "76.2 mm"),
        (printing.print_energy(12_400), "12.4 kWh"),
        (printing.print_celsius(750), "750 °C"),
        (printing.print_density(10_360), "10.36 g/cm³"),
        (printing.print_density(930), "0.93 g/cm³"),
        (printing.print_percent(1_234), "12.34 %"),
        (printing.print_percent(5), "0.05 %"),
        (printing.print_percent(1_230), "12.3 %"),
        (printing.print_melts(1_000), "1 melt"),
        (printing.print_melts(1_500), "1.5 melts"),
        (printing.print_melts(0), "0 melts"),
    ],
)
def test_other_measures(printed, expected):
    assert plain(printed) == expected


def test_days_and_moments():
    assert plain(printing.print_day(date(2026, 12, 7))) == "Mon 7 Dec"
    assert plain(printing.print_day(date(2026, 12, 7), with_year=True)) == "Mon 7 Dec 2026"
    assert plain(printing.print_date(date(2026, 12, 7))) == "7 Dec 2026"
    assert plain(printing.print_moment(datetime(2026, 12, 7, 6, 5))) == "Mon 7 Dec, 06:05"


@pytest.mark.parametrize(
    "print_one",
    [
        printing.print_mass, printing.print_bulk, printing.print_fine, printing.print_volume, measures.ITEMS.print,
        printing.print_money, printing.print_percent, printing.print_length, printing.print_minutes,
        printing.print_energy, printing.print_celsius, printing.print_density, printing.print_melts,
        printing.print_day, printing.print_moment, printing.print_date, printing.print_seconds,
        printing.print_heating_rate, printing.print_cooling_rate, printing.print_exact_money,
    ],
)  # fmt: skip
def test_what_is_not_known_is_a_dash(print_one):
    assert print_one(None) == NOTHING
