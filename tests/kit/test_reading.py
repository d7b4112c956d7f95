import pytest

from studio.kit import measures
from studio.kit.numerals import Unreadable
from studio.kit.printing import SPACE


def refusal(read, text, **bounds):
    with pytest.raises(Unreadable) as caught:
        read(text, **bounds)
    return str(caught.value).replace(SPACE, " ")


@pytest.mark.parametrize(
    ("typed", "mass_mg"),
    [
        ("12.4", 12_400),
        ("12,4 g", 12_400),
        ("83,4", 83_400),
        ("  12.4G ", 12_400),
        (".5", 500),
        ("5.", 5_000),
        ("0,234", 234),
        ("1234,567", 1_234_567),
        ("1,234.5", 1_234_500),
        ("1.234,5 g", 1_234_500),
        ("12,345,678 mg", 12_345_678),
        ("1 234.5", 1_234_500),
        ("1'234.5", 1_234_500),
        ("2.5 ozt", 77_759),
        ("8 dwt", 12_441),
        ("12.5 dwt", 19_440),
        ("8dwt", 12_441),
        ("12 grains", 778),
        ("1 lb", 453_592),
        ("2 oz av", 56_699),
        ("2 oz. av.", 56_699),
        ("1 oz troy", 31_103),
        ("0.5 kg", 500_000),
        ("250 mg", 250),
        ("3 ct", 600),
        ("1/2 ozt", 15_552),
        ("1 1/2 ozt", 46_655),
        ("½ ozt", 15_552),
        ("1½ ozt", 46_655),
        ("18 dwt 12 gr", 28_771),
        ("18 dwt. 12 gr.", 28_771),
        ("1 ozt + 5 dwt", 38_879),
        ("8 dwt .5 gr", 12_474),
        ("1 lb 2 oz av", 510_291),
        ("12.4\u00a0g", 12_400),
        ("12.4\u202fg", 12_400),
        ("\u200b12.4 g\ufeff", 12_400),
        ("１２．４", 12_400),
        ("0.0005", 1),
        ("0.00049", 0),
    ],
)
def test_a_mass_is_read_as_typed(typed, mass_mg):
    assert measures.MASS.read(typed) == mass_mg


def test_a_sum_is_rounded_once():
    assert measures.MASS.read("1 dwt 1 gr") == 1_620


@pytest.mark.parametrize("typed", ["3.1 oz", "3.1oz", "3.1 ounces", "3.1 OZ."])
def test_a_bare_ounce_is_asked_about(typed):
    assert refusal(measures.MASS.read, typed) == (
        "Ounces troy (96.42 g) or ounces avoirdupois (87.88 g)? Write ozt or oz av."
    )


def test_a_bare_ounce_inside_a_sum_is_asked_about():
    assert refusal(measures.MASS.read, "1 lb 2 oz").startswith("Ounces troy")


def test_gr_alone_may_be_grains_or_grams():
    assert refusal(measures.MASS.read, "12 gr") == "Grains (0.78 g) or grams (12.00 g)? Write grains or g."


@pytest.mark.parametrize("typed", ["1,234", "1,234 g", "12,345 dwt"])
def test_a_comma_before_three_digits_is_asked_about(typed):
    assert "Write it without the comma." in refusal(measures.MASS.read, typed)


def test_the_question_about_a_comma_shows_both_readings():
    assert refusal(measures.MASS.read, "1,234 g") == (
        "Is 1,234 meant as 1234 or as 1.234? Write it without the comma."
    )


@pytest.mark.parametrize("typed", ["-1", "-1 g", "\u22121 g", "\u20131", " - 5"])
def test_less_than_nothing_is_refused(typed):
    assert refusal(measures.MASS.read, typed) == "This cannot be below zero. Write it without the minus."


NASTY = [
    "", " ", "g", "abc", "nan", "NaN g", "inf", "1e5", "1E-3 g", "0x10", "1_000", "12.4.5", "1,23,456", "1,,2", "..",
    ",", ".", "1 2", "12 34", "5/0", "1/2/3", "/2", "5 stones", "5 g 3", "3 5 g", "12 gr 18 dwt", "5 g 5 g", "5 g +",
    "+ 5 g", "5--6", "5-6", "(5)", "5 g; drop table", "<b>5</b>", "\x005", "5\x07", "٣", "５ ｆｔ", "10 e", "5 g/",
    "$5", "5 %", "1,234,56", "0,123,456", "1.2.3", "''", "1'2", "5'", "--5", "∞", "Ⅻ", "5 g g", "NULL",
]  # fmt: skip


@pytest.mark.parametrize("typed", NASTY)
def test_what_is_not_a_mass_is_refused_with_an_example(typed):
    sentence = refusal(measures.MASS.read, typed)
    assert sentence.endswith((".", "?"))
    assert "Write" in sentence


def test_raised_digits_are_never_taken_for_plain_ones():
    assert "plain digits" in refusal(measures.MASS.read, "10² g")
    assert "plain digits" in refusal(measures.MASS.read, "① g")


def test_what_is_too_long_is_refused():
    assert "60 characters" in refusal(measures.MASS.read, "1" * 61)
    assert "most this field takes" in refusal(measures.MASS.read, "1" * 60)


def test_the_most_and_the_least_are_named():
    assert refusal(measures.MASS.read, "100.000001 kg").startswith("The most this field takes is 100,000 g.")
    assert refusal(measures.MASS.read, "0", minimum=1) == "Write more than 0."
    assert refusal(measures.MASS.read, "0", minimum=10) == "Write at least 0.01 g."


def test_the_bounds_themselves_are_taken():
    assert measures.MASS.read("100 kg") == measures.MASS.maximum
    assert measures.MASS.read("0.01", minimum=10) == 10


@pytest.mark.parametrize(
    ("typed", "volume_ul"),
    [
        ("250", 250_000),
        ("1.5 l", 1_500_000),
        ("12 cm³", 12_000),
        ("12cm3", 12_000),
        ("2 fl oz", 59_147),
        ("1.5 fl oz", 44_360),
        ("2 fl. oz.", 59_147),
    ],
)
def test_volumes(typed, volume_ul):
    assert measures.VOLUME.read(typed) == volume_ul


@pytest.mark.parametrize(
    ("typed", "items"), [("12", 12), ("1,200", 1200), ("1 200 pcs", 1200), ("1 item", 1), ("3.0", 3)]
)
def test_counts(typed, items):
    assert measures.ITEMS.read(typed) == items


@pytest.mark.parametrize("typed", ["2.5", "1/2", "1.200", "12 g"])
def test_a_part_of_an_item_is_refused(typed):
    assert "whole number" in refusal(measures.ITEMS.read, typed)


@pytest.mark.parametrize(
    ("typed", "length_um"),
    [("75", 75_000), ("75 mm", 75_000), ("7.5 cm", 75_000), ("3 in", 76_200), ('3"', 76_200), ("3”", 76_200),
     ("2 1/2 in", 63_500), ("2½ in", 63_500)],
)  # fmt: skip
def test_lengths(typed, length_um):
    assert measures.LENGTH.read(typed) == length_um


def test_only_mass_and_time_may_be_sums():
    assert "length such as" in refusal(measures.LENGTH.read, "7 cm 5 mm")


@pytest.mark.parametrize(
    ("typed", "micro"),
    [("12.50", 12_500_000), ("£12.50", 12_500_000), ("12,50 €", 12_500_000), ("$ 1,234.50", 1_234_500_000),
     ("GBP 12", 12_000_000), ("12 gbp", 12_000_000), ("0.000001", 1), ("1 234,50", 1_234_500_000)],
)  # fmt: skip
def test_money(typed, micro):
    assert measures.MONEY.read(typed) == micro


@pytest.mark.parametrize(
    "typed", ["12 dwt", "12 ozt", "12 kgs", "12 per", "12 %", "1e5", "12.50 pounds", "ab 12", "", "£"]
)
def test_what_is_not_money_is_refused(typed):
    assert (
        refusal(measures.MONEY.read, typed) == "This cannot be read. Write an amount of money such as 12.50."
    )


def test_money_beyond_the_sixth_decimal_is_refused():
    assert refusal(measures.MONEY.read, "0.0000001") == "Write at most 6 decimals."
    assert refusal(measures.MONEY.read, "1/3") == "Write at most 6 decimals."


@pytest.mark.parametrize("typed", ["-5", "£-5", "-£5"])
def test_money_below_zero_is_refused(typed):
    assert "below zero" in refusal(measures.MONEY.read, typed)


def test_money_has_a_most():
    assert refusal(measures.MONEY.read, "10000000.01").startswith(
        "The most this field takes is 10,000,000.00."
    )


def test_money_with_a_doubtful_comma_is_asked_about():
    assert "Is 1,234 meant as" in refusal(measures.MONEY.read, "£1,234")


@pytest.mark.parametrize(
    ("typed", "price"),
    [("0.98", (980_000, "g")), ("0.98/g", (980_000, "g")), ("30.50 per ozt", (30_500_000, "ozt")),
     ("£30.50 / troy ounce", (30_500_000, "ozt")), ("7 EUR per kg", (7_000_000, "kg")), ("3/lb", (3_000_000, "lb")),
     ("1.60 per dwt.", (1_600_000, "dwt"))],
)  # fmt: skip
def test_prices_of_metal(typed, price):
    assert measures.PRICES["price-g"].read(typed) == price


def test_a_bare_price_is_for_the_unit_the_page_names():
    assert measures.PRICES["price-ozt"].read("30.50") == (30_500_000, "ozt")


def test_a_price_per_bare_ounce_is_asked_about():
    assert refusal(measures.PRICES["price-g"].read, "30 per oz").startswith(
        "Ounces troy or ounces avoirdupois?"
    )


@pytest.mark.parametrize("typed", ["3 per stone", "per g", "3/", "/g", "3 per g per g", "3 g", "-3/g"])
def test_what_is_not_a_price_is_refused(typed):
    assert "Write" in refusal(measures.PRICES["price-g"].read, typed)


@pytest.mark.parametrize(
    ("typed", "pct100"), [("2.5", 250), ("10 %", 1_000), ("10%", 1_000), ("12,5 per cent", 1_250)]
)
def test_percentages(typed, pct100):
    assert measures.PERCENT.read(typed) == pct100


def test_no_more_than_the_whole():
    assert (
        refusal(measures.PERCENT.read, "101")
        == "The most this field takes is 100 %. Check the number and its unit."
    )


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [("7:30", 450), ("0:05", 5), ("7 h 30", 450), ("7h30", 450), ("7 h 30 min", 450), ("450 min", 450), ("7.5 h", 450),
     ("450", 450), ("2 hours", 120), ("1½ h", 90)],
)  # fmt: skip
def test_lengths_of_time(typed, minutes):
    assert measures.MINUTES.read(typed) == minutes


@pytest.mark.parametrize(
    "typed", ["7:75", "7:5", ":30", "7:", "7:30:00", "30 min 7 h", "7 h 30 h", "30 7 h", "noon"]
)
def test_what_is_not_a_length_of_time_is_refused(typed):
    assert "length of time such as 7:30" in refusal(measures.MINUTES.read, typed)


@pytest.mark.parametrize(("typed", "wh"), [("12.4 kWh", 12_400), ("12.4", 12_400), ("800 Wh", 800)])
def test_energy(typed, wh):
    assert measures.ENERGY.read(typed) == wh


@pytest.mark.parametrize(
    ("typed", "tenths"),
    [
        # NIST SP 811, appendix B.8 (from memory): 1 inHg is 3.386389 kPa, 1 mmHg is 133.3224 Pa.
        ("27.5", 275), ("27.5 inHg", 275), ("27,5 in Hg", 275), ('28"', 280), ("-27 inHg", 270), ("0", 0),
        ("93.1 kPa", 275), ("931 mbar", 275), ("931 hPa", 275), ("0.931 bar", 275), ("-0,93 bar", 275),
        ("700 mmHg", 276), ("700 Torr", 276), ("760 torr", 299),
    ],
)  # fmt: skip
def test_a_vacuum_is_read_in_the_units_of_any_gauge(typed, tenths):
    assert measures.VACUUM.read(typed) == tenths


def test_a_vacuum_is_echoed_in_inches_and_cannot_be_more_than_the_air():
    assert measures.VACUUM.tell(275) == "27.5\u00a0inHg"
    for typed in ("93", "1.1 bar", "200 kPa"):
        assert refusal(measures.VACUUM.read, typed) == (
            "The most this field takes is 30.0 inHg. Check the number and its unit."
        )
    assert "930 mbar" in refusal(measures.VACUUM.read, "27.5 psi")


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [
        ("750", 750),
        ("750 C", 750),
        ("750 °C", 750),
        ("750℃", 750),
        ("1350 F", 732),
        ("1350°F", 732),
        ("300 f", 149),
    ],
)
def test_temperatures(typed, celsius):
    assert measures.CELSIUS.read(typed) == celsius


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [("4 min", 240), ("4:30", 270), ("3 min 30 s", 210), ("45 s", 45), ("1.5 min", 90), ("0", 0)],
)
def test_short_times(typed, seconds):
    assert measures.SECONDS.read(typed) == seconds


def test_a_bare_short_time_is_asked_about():
    assert refusal(measures.SECONDS.read, "4") == "Minutes or seconds? Write 4 min or 4 s."


@pytest.mark.parametrize(
    ("typed", "rate"),
    [("150", 150), ("150 C/h", 150), ("150 °C an hour", 150), ("270 F", 150), ("60 f/h", 33)],
)
def test_a_climb_in_degrees_an_hour(typed, rate):
    """A difference of 9 F is one of 5 C; computed."""
    assert measures.HEATING.read(typed) == rate


def test_no_temperature_below_freezing():
    assert refusal(measures.CELSIUS.read, "20 F") == "Write at least 0 °C."


@pytest.mark.parametrize(
    "typed", ["10.36", "10.36 g/cm3", "10.36 g/cm³", "10,36 g/ml", "10.36 g/cc", "10.36 kg/l"]
)
def test_densities(typed):
    assert measures.DENSITY.read(typed) == 10_360


def test_a_density_stays_within_nature():
    assert refusal(measures.DENSITY.read, "0") == "Write at least 0.10 g/cm³."
    assert "25.00 g/cm³" in refusal(measures.DENSITY.read, "10360")


@pytest.mark.parametrize("typed", ["925", "925 ‰", "925 fine"])
def test_fineness(typed):
    assert measures.FINENESS.read(typed) == 925


@pytest.mark.parametrize("typed", ["0.925", "999.9", "18 ct", "92.5 %"])
def test_fineness_is_whole_parts_per_thousand(typed):
    assert "whole parts per thousand such as 925" in refusal(measures.FINENESS.read, typed)


def test_fineness_has_a_most():
    assert refusal(measures.FINENESS.read, "1001").startswith("The most this field takes is 1000.")


def test_melts():
    assert measures.MELTS.read("1.5") == 1_500


def test_stock_is_read_in_the_materials_unit():
    assert measures.stock_measure("mass").read("1 lb") == 453_592
    assert measures.stock_measure("volume").read("1 l", maximum=2_000_000) == 1_000_000
    assert measures.stock_measure("items").read("3", minimum=1) == 3


def test_an_unknown_unit_of_stock_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="no such unit"):
        measures.stock_measure("yards")


@pytest.mark.parametrize(
    ("read", "most", "beyond", "largest"),
    [
        (measures.MASS.read, "100 kg", "100.000001 kg", 100_000_000),
        (measures.VOLUME.read, "1000 l", "1000.000001 l", 1_000_000_000),
        (measures.ITEMS.read, "1000000", "1000001", 1_000_000),
        (measures.LENGTH.read, "10000 mm", "10000.001 mm", 10_000_000),
        (measures.MONEY.read, "10000000", "10000000.000001", 10_000_000_000_000),
        (measures.PERCENT.read, "100 %", "100.01 %", 10_000),
        (measures.MINUTES.read, "744 h", "44641 min", 44_640),
        (measures.SECONDS.read, "1440 min", "86401 s", 86_400),
        (measures.ENERGY.read, "100000 kWh", "100000.001 kWh", 100_000_000),
        (measures.CELSIUS.read, "2000 C", "2001 C", 2_000),
        (measures.HEATING.read, "10000 C/h", "10001 C/h", 10_000),
        (measures.COOLING.read, "100 C/s", "100.1 C/s", 1_000),
        (measures.DENSITY.read, "25 g/cm3", "25.001 g/cm3", 25_000),
    ],
)
def test_each_field_takes_its_most_and_no_more(read, most, beyond, largest):
    assert read(most) == largest
    assert "The most this field takes" in refusal(read, beyond)


@pytest.mark.parametrize(
    ("read", "nothing"),
    [
        (measures.MASS.read, "0 g"),
        (measures.VOLUME.read, "0 ml"),
        (measures.ITEMS.read, "0"),
        (measures.LENGTH.read, "0 mm"),
        (measures.MONEY.read, "0"),
        (measures.PERCENT.read, "0"),
        (measures.MINUTES.read, "0 min"),
        (measures.SECONDS.read, "0"),
        (measures.ENERGY.read, "0"),
        (measures.CELSIUS.read, "0 C"),
        (measures.HEATING.read, "0 C/h"),
        (measures.COOLING.read, "0"),
    ],
)
def test_nothing_is_taken_where_no_least_is_named(read, nothing):
    assert read(nothing) == 0
