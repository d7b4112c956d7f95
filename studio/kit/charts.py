"""The studio's bars: where the metal went, in a list's row too, what a cost is made of, how far a lot is used up."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from reportlab.graphics.shapes import Drawing

from studio.kit.chart_pen import (
    COST_ROLES,
    WIDE,
    KeyEntry,
    Picture,
    draw_box,
    draw_key,
    draw_outline,
)
from studio.kit.measures import MASS, PERCENT
from studio.kit.printing import print_mass, print_money, print_percent, print_quantity
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import PCT100_PER_PERCENT, PCT100_WHOLE, divide_half_up

_LEAST_VISIBLE = 2.0
# A part that is drawn as a gap in the frame and has no colour.
_EMPTY = "ground"


@dataclass(frozen=True, slots=True)
class _Part:
    role: str
    label: str
    amount: int
    amount_text: str
    share_text: str = ""

    @property
    def text(self) -> str:
        share = f" ({self.share_text})" if self.share_text else ""
        return f"{self.label} {self.amount_text}{share}"


def gram_bar(
    pieces_mg: int,
    back_mg: int,
    filings_mg: int,
    lost_mg: int,
    unweighed_mg: int = 0,
    width: float = WIDE,
    title: str = "Where the metal went",
) -> Picture:
    """One bar as wide as the charge: pieces, back to the tin, filings and spill, lost; in milligrams.

    `lost_mg` below 0 means that more was weighed out than in; `unweighed_mg` is what an open cast still owes.
    """
    charge_mg = pieces_mg + back_mg + filings_mg + lost_mg + unweighed_mg
    over = lost_mg < 0
    parts = [
        _Part("pieces", "pieces", pieces_mg, print_mass(pieces_mg)),
        _Part("back", "back to the tin", back_mg, print_mass(back_mg)),
        _Part("filings", "filings and spill", filings_mg, print_mass(filings_mg)),
        _Part(
            "lost",
            "more than went in" if over else "lost",
            lost_mg,
            print_mass(abs(lost_mg)),
            _print_shares([abs(lost_mg)], charge_mg)[0],
        ),
    ]
    if unweighed_mg:
        parts.append(_Part(_EMPTY, "not weighed yet", unweighed_mg, print_mass(unweighed_mg)))
    told = ", ".join(part.text for part in parts)
    said = f"Of {print_mass(charge_mg)} charged: {told}."
    return _make_bar(parts, width, title, said)


def cost_bar(
    parts: Sequence[tuple[str, int]], width: float = WIDE, title: str = "What the cost is made of"
) -> Picture:
    """One bar of the labelled parts of a cost, each in millionths of the currency, in the order given.

    A part below zero (money that came back) stands in the key and not in the bar. One of nothing is left out and
    keeps its colour free, so that the same part looks the same in every bar.
    """
    percents = _whole_percents([cost_micro for _, cost_micro in parts])
    laid = [
        _Part(COST_ROLES[place % len(COST_ROLES)], label, cost_micro, print_money(cost_micro), percent)
        for place, ((label, cost_micro), percent) in enumerate(zip(parts, percents, strict=True))
        if cost_micro
    ]
    total = print_money(sum(cost_micro for _, cost_micro in parts))
    told = ", ".join(part.text for part in laid) or "nothing yet"
    return _make_bar(laid, width, title, f"Of {total} in all: {told}.")


def used_up_bar(
    used: int, left: int, unit: str, width: float = WIDE, title: str = "How much is left"
) -> Picture:
    """How far a lot is used up; quantities in the material's small unit ("mass", "volume" or "items")."""
    whole = used + left
    shares = _print_shares([used, left], whole)
    parts = [
        _Part("used", "used", used, print_quantity(used, unit), shares[0]),
        _Part("left", "left", left, print_quantity(left, unit), shares[1]),
    ]
    told = ", ".join(part.text for part in parts)
    return _make_bar(parts, width, title, f"Of {print_quantity(whole, unit)}: {told}.")


def flow_bar(
    parts: Sequence[tuple[str, str, int]], width: float = WIDE, title: str = "Where the metal went"
) -> Picture:
    """One bar of (role, label, milligrams), in the order given; a part below nothing stands in the key alone."""
    whole = sum(mass_mg for _, _, mass_mg in parts)
    shares = _print_shares([mass_mg for _, _, mass_mg in parts], whole)
    laid = [
        _Part(role, label, mass_mg, MASS.print_in_column(mass_mg), share)
        for (role, label, mass_mg), share in zip(parts, shares, strict=True)
        if mass_mg
    ]
    told = ", ".join(part.text for part in laid) or "nothing yet"
    return _make_bar(laid, width, title, f"Of {MASS.print_in_column(whole)}: {told}.")


def _make_bar(parts: Sequence[_Part], width: float, title: str, description: str) -> Picture:
    """A bar has no table of its own: its key gives every figure."""
    return Picture(partial(_draw_bar, tuple(parts)), title, description, width=width)


def _draw_bar(parts: Sequence[_Part], width: float, text_size: float) -> Drawing:
    entries = [KeyEntry(part.role, part.text, "frame" if part.role == _EMPTY else "box") for part in parts]
    key, key_height = draw_key(entries, width, text_size)
    bar_height, gap = text_size * 1.7, text_size * 0.15
    bottom = key_height + gap
    shapes = []
    x = 0.5
    for part, part_width in zip(parts, _bar_widths(parts, width - 1), strict=True):
        if part_width and part.role != _EMPTY:
            shapes.append(draw_box(x, bottom, part_width, bar_height, part.role))
            # A hair of ground between two parts, so that the border shows without any colour.
            shapes.append(draw_box(x + part_width - 0.5, bottom, 0.5, bar_height, "ground"))
        x += part_width
    shapes.append(draw_outline(0.5, bottom, width - 1, bar_height))
    return Drawing(width, bottom + bar_height + 0.5, *shapes, *key)


def _bar_widths(parts: Sequence[_Part], width: float) -> list[float]:
    """Widths in proportion; a part that is there at all can be seen, at the cost of the widest."""
    amounts = [max(part.amount, 0) for part in parts]
    whole = sum(amounts)
    if not whole:
        return [0.0] * len(parts)
    widths = [max(_LEAST_VISIBLE, width * amount / whole) if amount else 0.0 for amount in amounts]
    widest = widths.index(max(widths))
    widths[widest] -= sum(widths) - width
    return widths


def _print_shares(amounts: Sequence[int], whole: int) -> list[str]:
    """What each is of the whole, all with the same number of decimals; "" for a share that would not mean anything."""
    if whole <= 0:
        return [""] * len(amounts)
    shares = [divide_half_up(amount * PCT100_WHOLE, whole) for amount in amounts]
    stand_together = len(shares) > 1 and any(share % PCT100_PER_PERCENT for share in shares)
    tell = PERCENT.print_in_column if stand_together else PERCENT.print
    return [tell(share) if share >= 0 else "" for share in shares]


def _whole_percents(amounts: Sequence[int]) -> list[str]:
    """Whole per cents that add up to 100, or nothing where a share would not mean anything."""
    if any(amount < 0 for amount in amounts) or not sum(amounts):
        return [""] * len(amounts)
    return [print_percent(share * 100) for share in allocate_largest_remainder(100, amounts)]


_WHOLE = 10_000
# A part that is there at all can be seen: 0.8 % of the width.
_LEAST = 80
_HEIGHT = 14


def render_gram_strip(pieces_mg: int, back_mg: int, filings_mg: int, lost_mg: int) -> SafeString:
    """Pieces, back to the tin, filings and spill, lost, in that order, in milligrams.

    A gain (lost below 0) is not drawn.
    """
    parts = (
        ("pieces", "pieces", pieces_mg),
        ("back", "back to the tin", back_mg),
        ("filings", "filings and spill", filings_mg),
        ("lost", "lost", lost_mg),
    )
    told = ", ".join(f"{label} {print_mass(mass_mg)}" for _, label, mass_mg in parts)
    widths = share_width([max(mass_mg, 0) for _, _, mass_mg in parts])
    drawn, start = [], 0
    for (role, _, _), width in zip(parts, widths, strict=True):
        if width:
            drawn.append((role, _percent(start), _percent(width), _HEIGHT))
        start += width
    shapes = format_html_join("", '<rect class="part-{}" x="{}" y="0" width="{}" height="{}"/>', drawn)
    return format_html(
        '<svg class="strip" role="img" aria-label="{}" width="100%" height="{}">{}</svg>',
        told,
        _HEIGHT,
        shapes,
    )


def share_width(amounts: Sequence[int]) -> list[int]:
    """Hundredths of a per cent of the width for each amount; the widest gives what the thin ones need to be seen."""
    if not sum(amounts):
        return [0] * len(amounts)
    widths = allocate_largest_remainder(_WHOLE, amounts)
    widths = [max(width, _LEAST) if amount else 0 for width, amount in zip(widths, amounts, strict=True)]
    widths[widths.index(max(widths))] -= sum(widths) - _WHOLE
    return widths


def _percent(hundredths: int) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02d}%"
