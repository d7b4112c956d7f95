"""What was typed into the search box, taken apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.searching import MOST_WORDS, Term, read_terms


@pytest.mark.parametrize(
    ("typed", "terms"),
    [
        ("", ()),
        ("  \t ", ()),
        ("fern stud", (Term("fern"), Term("stud"))),
        ("40", (Term("40", 40),)),
        ("#40", (Term("#40", 40),)),
        ("Cast 40", (Term("Cast 40", 40, "cast"),)),
        ("fern cast 40, lot 93", (Term("fern"), Term("cast 40", 40, "cast"), Term("lot 93", 93, "lot"))),
        ("cast", (Term("cast"),)),
        ("cast fern 40", (Term("cast"), Term("fern"), Term("40", 40))),
        ("cast 40 41", (Term("cast 40", 40, "cast"), Term("41", 41))),
        ("100% a_b", (Term("100%"), Term("a_b"))),
        ("4.5 -3", (Term("4.5"), Term("-3"))),
        ("1234567890", (Term("1234567890"),)),
        ("\u0664\u0660", (Term("\u0664\u0660"),)),
        ("fe\x00rn\u200b", (Term("fe"), Term("rn"))),
        ("“quoted”, (in brackets)", (Term("“quoted”"), Term("in"), Term("brackets"))),
    ],
)
def test_words_and_numbers_are_told_apart(typed: str, terms: tuple[Term, ...]) -> None:
    assert read_terms(typed) == terms


@given(st.text(max_size=300))
def test_whatever_is_typed_gives_a_few_terms_without_a_letter_that_nobody_sees(typed: str) -> None:
    terms = read_terms(typed)
    assert len(terms) <= MOST_WORDS
    assert all(term.text.strip() and term.text.isprintable() for term in terms)
