import pytest
from reportlab.pdfbase import pdfmetrics

from studio.kit.fonts import BOLD, ITALIC, REGULAR, measure, printable, register_fonts, wrap


@pytest.mark.parametrize("face", [REGULAR, BOLD, ITALIC])
def test_figures_are_equally_wide_so_that_columns_line_up(face):
    assert len({measure(digit, face, 1000) for digit in "0123456789"}) == 1


def test_registering_twice_keeps_the_first_faces():
    register_fonts()
    first = pdfmetrics.getFont(REGULAR)
    register_fonts()
    assert pdfmetrics.getFont(REGULAR) is first


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("Łódź, ő and Ø", "Łódź, ő and Ø"),
        ("12.40\u00a0g \u2212 ½", "12.40\u00a0g \u2212 ½"),
        ("tin → ring", "tin -> ring"),
        ("Иван Щука", "Ivan Shchuka"),
        ("λόγος", "logos"),
        ("e\u0301", "é"),
        ("ậ", "â"),
        ("a\tb\u200bc\x00d", "a bcd"),
        ("two\nlines", "two\nlines"),
        ("漢字 ☃", "?? ?"),
        ("", ""),
    ],
)
def test_letters_the_typeface_lacks_become_letters_a_person_can_read(typed, printed):
    assert printable(typed) == printed


def test_text_wraps_at_spaces_and_loses_nothing():
    lines = wrap("the button and the sprues went back to the tin", REGULAR, 9, 80)
    assert " ".join(lines) == "the button and the sprues went back to the tin"
    assert all(measure(line, REGULAR, 9) <= 80 for line in lines)


def test_a_word_without_end_is_broken_and_loses_nothing():
    lines = wrap("x" * 120, REGULAR, 9, 80)
    assert "".join(lines) == "x" * 120
    assert all(measure(line, REGULAR, 9) <= 80 for line in lines)


def test_a_number_stays_with_its_unit():
    assert wrap("about 12.40\u00a0g", REGULAR, 9, 45) == ["about", "12.40\u00a0g"]


def test_a_line_end_in_the_text_begins_a_new_line():
    assert wrap("one\n\ntwo", REGULAR, 9, 500) == ["one", "", "two"]


def test_a_column_too_narrow_for_a_letter_still_shows_each_letter():
    assert wrap("abc", REGULAR, 9, 1) == ["a", "b", "c"]
