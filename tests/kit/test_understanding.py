import pytest

from studio.kit.fields import find_typed, understand
from studio.kit.measures import MEASURES, PRICES
from studio.kit.printing import SPACE

TYPED = sorted(name for name in {**MEASURES, **PRICES} if find_typed(name))


def plain(answer):
    return answer[0], answer[1].replace(SPACE, " ")


@pytest.mark.parametrize(
    ("kind", "typed", "understood"),
    [
        ("mass", "8 dwt", "12.441 g"),
        ("volume", "1.5 l", "1,500 ml"),
        ("items", "1", "1 item"),
        ("money", "£0.8473", "0.8473"),
        ("price-g", "0.98", "0.98 per g"),
        ("price-ozt", "30.5", "30.50 per ozt"),
        ("price-ozt", "0.98 / g", "0.98 per g"),
        ("percent", "2,5", "2.5 %"),
        ("length", "3 in", "76.2 mm"),
        ("minutes", "7:30", "7 h 30 min"),
        ("seconds", "3:30", "3 min 30 s"),
        ("heating", "270 F/h", "150 °C an hour"),
        ("cooling", "4.5 F/s", "2.5 °C a second"),
        ("energy", "12.4", "12.4 kWh"),
        ("celsius", "1350 F", "732 °C"),
        ("density", "10.36", "10.36 g/cm³"),
        ("fineness", "925", "925"),
        ("melts", "1.5", "1.5 melts"),
    ],
)
def test_a_field_tells_what_it_understood(kind, typed, understood):
    assert plain(understand(kind, typed)) == (True, understood)


def test_a_field_tells_how_to_mend_it():
    understood, sentence = understand("mass", "3.1 oz")
    assert not understood
    assert sentence.startswith("Ounces troy")


def test_a_field_keeps_its_bounds_while_typing():
    assert understand("mass", "0", minimum=1) == (False, "Write more than 0.")


def test_nothing_typed_is_nothing_understood():
    assert understand("mass", "  ") == (True, "")


def test_an_unknown_kind_is_refused_and_never_breaks():
    assert understand("<script>", "12")[0] is False


@pytest.mark.parametrize("kind", TYPED)
def test_what_is_shown_for_changing_reads_back_the_same(kind):
    value = (847_285, "dwt") if kind.startswith("price") else 275 if kind == "vacuum" else 925
    assert find_typed(kind).read(find_typed(kind).retype(value)) == value


def test_thousands_are_retyped_without_a_comma():
    assert MEASURES["mass"].retype(1_234_500) == "1234.5 g"
    assert MEASURES["money"].retype(1_234_500_000) == "1234.50"
    assert MEASURES["minutes"].retype(450) == "7 h 30 min"
