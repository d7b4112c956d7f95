from hypothesis import given
from hypothesis import strategies as st

from studio.kit import measures, printing
from studio.kit.numerals import Unreadable

READERS = (
    measures.MASS.read, measures.VOLUME.read, measures.ITEMS.read, measures.LENGTH.read, measures.MONEY.read,
    measures.PRICES["price-g"].read, measures.PERCENT.read, measures.MINUTES.read, measures.ENERGY.read,
    measures.CELSIUS.read, measures.DENSITY.read, measures.FINENESS.read, measures.MELTS.read,
)  # fmt: skip
TYPED = st.one_of(st.text(max_size=70), st.text(alphabet="0123456789.,'/ +-:%ghozdwtrav½²", max_size=30))


@given(TYPED, st.sampled_from(READERS))
def test_any_text_is_read_or_refused_with_a_sentence(text, read):
    try:
        read(text)
    except Unreadable as refused:
        assert str(refused)[0].isupper()
        assert str(refused)[-1] in ".?"


@given(st.integers(0, measures.MASS.maximum))
def test_a_mass_below_a_kilogram_reads_back_as_printed(mass_mg):
    typed = printing.print_mass(mass_mg).replace(",", "")
    assert measures.MASS.read(typed) == mass_mg


@given(st.integers(0, measures.MINUTES.maximum))
def test_a_length_of_time_reads_back_as_printed(minutes):
    assert measures.MINUTES.read(printing.print_minutes(minutes)) == minutes


@given(st.integers(0, measures.MONEY.maximum))
def test_money_reads_back_as_printed(money_micro):
    typed = printing.print_exact_money(money_micro).replace(",", "")
    assert measures.MONEY.read(typed) == money_micro
