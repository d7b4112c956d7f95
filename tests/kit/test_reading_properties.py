from hypothesis import given
from hypothesis import strategies as st

from studio.kit import printing, reading
from studio.kit.numerals import Unreadable

READERS = (
    reading.read_mass, reading.read_volume, reading.read_count, reading.read_length, reading.read_money,
    reading.read_money_per_mass, reading.read_percent, reading.read_minutes, reading.read_energy,
    reading.read_celsius, reading.read_density, reading.read_per_mille, reading.read_melts,
)  # fmt: skip
TYPED = st.one_of(st.text(max_size=70), st.text(alphabet="0123456789.,'/ +-:%ghozdwtrav½²", max_size=30))


@given(TYPED, st.sampled_from(READERS))
def test_any_text_is_read_or_refused_with_a_sentence(text, read):
    try:
        read(text)
    except Unreadable as refused:
        assert str(refused)[0].isupper()
        assert str(refused)[-1] in ".?"


@given(st.integers(0, reading.MASS_MAX_MG))
def test_a_mass_below_a_kilogram_reads_back_as_printed(mass_mg):
    typed = printing.print_mass(mass_mg).replace(",", "")
    assert reading.read_mass(typed) == mass_mg


@given(st.integers(0, reading.MINUTES_MAX))
def test_a_length_of_time_reads_back_as_printed(minutes):
    assert reading.read_minutes(printing.print_minutes(minutes)) == minutes


@given(st.integers(0, reading.MONEY_MAX_MICRO))
def test_money_reads_back_as_printed(money_micro):
    typed = printing.print_exact_money(money_micro).replace(",", "")
    assert reading.read_money(typed) == money_micro
