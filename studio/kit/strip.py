"""The gram bar made small enough for a row of a list: no words in it, they stand in its description."""

from collections.abc import Sequence

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from studio.kit.printing import print_mass
from studio.kit.rounding import allocate_largest_remainder

_WHOLE = 10_000
# A part that is there at all can be seen: 0.8 % of the width.
_LEAST = 80
_HEIGHT = 14


def render_gram_strip(pieces_mg: int, back_mg: int, filings_mg: int, lost_mg: int) -> SafeString:
    """Pieces, back to the tin, filings, lost, in that order, in milligrams; a gain (lost below 0) is not drawn."""
    parts = (
        ("pieces", "pieces", pieces_mg),
        ("back", "back to the tin", back_mg),
        ("filings", "filings", filings_mg),
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
