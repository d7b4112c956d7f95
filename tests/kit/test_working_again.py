"""The reckoner that works printed steps again finds what is wrong with them."""

import pytest

from studio.kit.working import Step
from tests.workings import find_fault


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("5.00\u00a0g × 10.36\u00a0g/cm³ ÷ 0.96\u00a0g/cm³", "53.958\u00a0g"),
        ("button: 10\u00a0% of 60.43\u00a0g", "6.043\u00a0g"),
        ("a cast: 23\u00a0h\u00a050\u00a0min ÷ 12", "1\u00a0h\u00a059\u00a0min"),
        ("2,200\u00a0W × 2\u00a0h\u00a030\u00a0min × 38\u00a0%", "2.09\u00a0kWh"),
        ("3.14159265 × 75\u00a0mm × 75\u00a0mm × 100\u00a0mm ÷ 4", "441.786\u00a0ml"),
        ("spread, the square root of: 3\u00a0g squared + 4\u00a0g squared", "5.00\u00a0g"),
        ("2.00 − 5.50", "−3.50"),
        ("so that this is left: 90.0000 ÷ (100 % − 10\u00a0%)", "100.0000"),
    ],
)
def test_a_sum_that_comes_out_has_no_fault(text, result):
    assert find_fault(Step(text, result)) == ""


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("loss to expect: 1,234.00\u00a0g × 0.83\u00a0%", "10.278\u00a0g"),
        ("3.1416 × 75\u00a0mm × 75\u00a0mm × 100\u00a0mm ÷ 4", "441.786\u00a0ml"),
        ("Twig bangle: 30.81\u00a0g of 53.84\u00a0g", "0.3980"),
    ],
)
def test_a_sum_that_does_not_is_told(text, result):
    assert find_fault(Step(text, result)).endswith(f"not {result}")


@pytest.mark.parametrize(
    ("text", "result"), [("together", "5.00\u00a0g"), ("hold at 150\u00a0°C", "2\u00a0h")]
)
def test_words_are_no_sum(text, result):
    assert find_fault(Step(text, result)) is None
