from datetime import date

import pytest
from django.core.exceptions import ValidationError

from studio.kit import fields

TODAY = date(2026, 11, 25)


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr(fields.timezone, "localdate", lambda: TODAY)


def mistake(field, typed):
    with pytest.raises(ValidationError) as caught:
        field.clean(typed)
    return caught.value.messages[0]


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        (fields.MassField(), " 8 dwt ", 12_441),
        (fields.CountField(), "3", 3),
        (fields.MoneyField(), "£12.50", 12_500_000),
        (fields.PriceField(), "0.98", (980_000, "g")),
        (fields.PriceField(default_unit="ozt"), "30.5", (30_500_000, "ozt")),
        (fields.PercentField(), "2.5 %", 250),
        (fields.LengthField(), "75", 75_000),
        (fields.MinutesField(), "7:30", 450),
        (fields.EnergyField(), "12.4 kWh", 12_400),
        (fields.CelsiusField(), "750", 750),
        (fields.DensityField(), "10.36", 10_360),
        (fields.FinenessField(), "925", 925),
        (fields.MeltsField(), "1.5", 1_500),
        (fields.QuantityField("volume"), "250", 250_000),
        (fields.QuantityField("volume"), "1 l", 1_000_000),
    ],
)
def test_a_figure_cleans_to_its_small_unit(field, typed, value):
    assert field.clean(typed) == value


def test_an_optional_figure_may_stay_empty():
    assert fields.MassField(required=False).clean("  ") is None


def test_a_needed_figure_asks_for_one_with_an_example():
    assert mistake(fields.MassField(), "") == "Write a mass such as 12.4 g."
    assert mistake(fields.MassField(error_messages={"required": "Weigh it."}), "") == "Weigh it."


def test_what_cannot_be_read_keeps_the_readers_sentence():
    assert mistake(fields.MassField(), "3.1 oz").startswith("Ounces troy")


def test_a_field_keeps_its_own_bounds():
    assert mistake(fields.MassField(minimum=1), "0") == "Write more than 0."
    assert "2.00" in mistake(fields.MassField(maximum=2_000), "3")


def test_nothing_is_a_figure_when_zero_is_allowed():
    assert fields.MassField().clean("0") == 0


def test_a_stored_figure_is_shown_as_typed_and_typed_text_stays():
    field = fields.MassField()
    assert field.prepare_value(1_234_500) == "1234.5 g"
    assert field.prepare_value("1,234") == "1,234"
    assert field.prepare_value(None) is None


def test_the_same_mass_in_another_unit_is_no_change():
    assert not fields.MassField().has_changed(31_103, "1 ozt")
    assert fields.MassField().has_changed(31_103, "31 g")
    assert not fields.MassField(required=False).has_changed(None, "")


def test_an_unknown_unit_of_stock_is_the_programmers_mistake():
    with pytest.raises(ValueError, match="no such unit"):
        fields.QuantityField("yards")


@pytest.mark.parametrize("typed", ["2026-11-25", "25/11/2026", " 25/11/2026 "])
def test_a_day_is_read_both_ways(typed):
    assert fields.PastDayField().clean(typed) == TODAY


def test_a_day_that_has_not_come_is_refused():
    assert mistake(fields.PastDayField(), "2026-11-26") == (
        "That day has not come yet. Write a day up to today, 25 Nov 2026."
    )


def test_a_day_before_the_books_begin_is_refused():
    assert fields.PastDayField().clean("2000-01-01") == date(2000, 1, 1)
    assert mistake(fields.PastDayField(), "31/12/1999") == "Write a day from 1 Jan 2000 on."
    assert mistake(fields.UseByField(), "0001-01-01") == "Write a day from 1 Jan 2000 on."


@pytest.mark.parametrize(
    "typed", ["31/02/2026", "11/25/2026", "yesterday", "25/11/26", "2026", "\x00", "2026-11-25T10:00"]
)
def test_what_is_not_a_day_is_refused(typed):
    assert (
        mistake(fields.PastDayField(), typed)
        == "This day cannot be read. Write it as 25/11/2026 or 2026-11-25."
    )


def test_a_needed_day_asks_for_one():
    assert mistake(fields.PastDayField(), "") == "Write a day such as 25/11/2026."
    assert fields.PastDayField(required=False).clean("") is None


def test_a_day_typed_with_strokes_stays_visible_in_a_date_input():
    assert fields.PastDayField().prepare_value("7/12/2026") == date(2026, 12, 7)
    assert fields.PastDayField().prepare_value("soon") == "soon"


def test_powder_may_be_good_for_thirty_years():
    assert fields.UseByField().clean("2056-11-25") == date(2056, 11, 25)
    assert mistake(fields.UseByField(), "2056-11-26") == (
        "That is more than 30 years ahead. Write a day up to 25 Nov 2056."
    )


def test_a_leap_day_has_a_thirtieth_year(monkeypatch):
    monkeypatch.setattr(fields.timezone, "localdate", lambda: date(2028, 2, 29))
    assert fields.UseByField().clean("2058-02-28") == date(2058, 2, 28)


def test_a_day_is_one_of_this_century():
    assert fields.DayField().clean("2100-12-31") == date(2100, 12, 31)
    assert mistake(fields.DayField(), "9999-12-31") == (
        "This day is too far ahead. Write a day up to 31 Dec 2100."
    )


def test_a_line_becomes_one_line():
    assert fields.LineField().clean("  grain,\tnew \n parcel ") == "grain, new parcel"


@pytest.mark.parametrize("typed", ["a\x00b", "a\x1bb", "a\x7fb", "a\u202eb", "a\ud800b", "a\ufffdb"])
@pytest.mark.parametrize("field", [fields.LineField(), fields.NoteField()])
def test_characters_that_cannot_be_printed_are_refused(field, typed):
    assert mistake(field, typed) == "Take out the characters that cannot be printed."


def test_letters_of_any_script_are_welcome():
    assert fields.LineField().clean("Ångström & Søn, 銀 👩\u200d🏭") == "Ångström & Søn, 銀 👩\u200d🏭"


def test_a_line_has_an_end():
    assert fields.LineField().clean("x" * 120) == "x" * 120
    assert mistake(fields.LineField(), "x" * 121) == "This is too long. Write at most 120 characters."


def test_a_note_keeps_its_lines():
    assert fields.NoteField().clean("one\r\ntwo\tand") == "one\ntwo\tand"
    assert mistake(fields.NoteField(), "x" * 2001) == "This is too long. Write at most 2000 characters."


def test_an_empty_line_may_be_kept_as_none():
    assert fields.LineField(required=False).clean("  ") == ""
    assert fields.LineField(required=False, empty_value=None).clean("") is None
    assert fields.NoteField(required=False, empty_value=None).clean("") is None


def test_a_hidden_figure_carries_no_typing_aids():
    from django import forms

    assert fields.MassField(widget=forms.HiddenInput()).widget.attrs == {}
