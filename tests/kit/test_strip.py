"""The gram bar in a row of a list."""

import re

from studio.kit.charts import render_gram_strip, share_width


def widths_of(svg: str) -> list[float]:
    return [float(width) for width in re.findall(r'width="([0-9.]+)%" height="14"/>', svg)]


def test_a_loss_of_a_milligram_can_be_seen() -> None:
    assert share_width([99_999_999, 0, 0, 1]) == [9_920, 0, 0, 80]


def test_parts_stand_in_the_order_of_the_gram_bar() -> None:
    svg = render_gram_strip(50_000, 25_000, 15_000, 10_000)
    assert re.findall(r'class="part-(\w+)"', svg) == ["pieces", "back", "filings", "lost"]
    assert widths_of(svg) == [50, 25, 15, 10]


def test_a_gain_is_told_and_not_drawn() -> None:
    svg = render_gram_strip(50_000, 50_020, 0, -20)
    assert 'class="part-lost"' not in svg
    assert "lost \u22120.02\u00a0g" in svg


def test_nothing_charged_draws_nothing() -> None:
    assert "<rect" not in render_gram_strip(0, 0, 0, 0)


def test_a_strip_says_in_words_what_it_draws() -> None:
    told = (
        "pieces 86.10\u00a0g, back to the tin 92.70\u00a0g, filings and spill 0.45\u00a0g, lost 0.75\u00a0g"
    )
    assert f'aria-label="{told}"' in render_gram_strip(86_100, 92_700, 450, 750)
