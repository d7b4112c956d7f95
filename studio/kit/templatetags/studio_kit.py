"""Template filters that print figures, and tags for workings, cautions and pictures."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from itertools import count
from typing import Any

from django import template
from django.template import Context
from django.template.loader import get_template
from django.template.loader_tags import BLOCK_CONTEXT_KEY
from django.utils import timezone
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from studio.kit import printing
from studio.kit.cautions import Caution, find_caution
from studio.kit.chart_pen import Picture, render_svg
from studio.kit.context import slot_templates
from studio.kit.measures import MEASURES
from studio.kit.working import Working

register = template.Library()

# Drawn for the narrow and the wide column of phone and desk; the style sheet shows the one that fits.
PICTURE_WIDTHS = (320, 400, 600, 1040)

_numbers = count(1)


def _add_filter(name: str, printer: Callable[[Any], str]) -> None:
    # A template gives "" for what is not there: that prints as nothing, like None.
    register.filter(name, lambda value: printer(None if value == "" else value))


_add_filter("bulk", printing.print_bulk)
_add_filter("mass_in_column", MEASURES["mass"].print_in_column)
for measure in MEASURES.values():
    # Django's own `length` counts.
    _add_filter("length_mm" if measure.name == "length" else measure.name, measure.print)


@register.filter
def money(money_micro: int | str | None, decimals: int | None = None) -> str:
    """Millionths of the currency, digits only: the page names the currency once."""
    return printing.print_money(None if isinstance(money_micro, str) else money_micro, decimals)


@register.filter
def quantity(amount: int | str | None, unit: str) -> str:
    """A stock quantity in its material's unit: `{{ lot.quantity|quantity:lot.material.unit }}`."""
    return printing.print_quantity(None if isinstance(amount, str) else amount, unit)


@register.filter
def about(amount: Fraction | int | str | None, unit: str) -> str:
    """An estimate in a material's unit, without digits that say nothing; kilograms from one kilogram on."""
    return (
        printing.NOTHING
        if amount is None or isinstance(amount, str)
        else printing.print_roughly(amount, unit)
    )


@register.filter
def day(value: date | str | None, with_year: str = "") -> str:
    """ "Mon 7 Dec"; with any argument, `|day:"year"`, the year too. Of a moment, the studio's day."""
    if not isinstance(value, date):
        return printing.NOTHING
    if isinstance(value, datetime) and timezone.is_aware(value):
        value = timezone.localtime(value)
    return printing.print_day(value, with_year=bool(with_year))


@register.filter
def plain_date(value: date | str | None) -> str:
    """ "7 Dec 2026": a day without its weekday."""
    if not isinstance(value, date):
        return printing.NOTHING
    return printing.print_date(timezone.localdate(value) if isinstance(value, datetime) else value)


@register.filter
def moment(value: datetime | str | None, with_year: str = "") -> str:
    """Day and clock in the studio's zone: "Mon 7 Dec, 06:10"."""
    if not isinstance(value, datetime):
        return printing.NOTHING
    return printing.print_moment(timezone.localtime(value), with_year=bool(with_year))


@register.filter
def clock(value: datetime | str | None) -> str:
    """The clock alone, in the studio's zone: "06:10"."""
    if not isinstance(value, datetime):
        return printing.NOTHING
    return f"{timezone.localtime(value):%H:%M}"


@register.simple_tag(takes_context=True)
def again(context: Context, block: str) -> SafeString:
    """What a page puts into a block of its base, once more: most pages are titled by their heading."""
    blocks = context.render_context.get(BLOCK_CONTEXT_KEY)  # None where the base stands by itself
    return SafeString(blocks.get_block(block).nodelist.render(context) if blocks else "")


@register.simple_tag(takes_context=True, name="slot")
def show_slot(context: Context, name: str) -> SafeString:
    """What other apps put in this place of the page: `{% slot "plan" %}`."""
    with context.push(slot=name):
        shown = [get_template(each).template.render(context) for each in slot_templates()]  # type: ignore[attr-defined]  # Django's own engine
    return format_html_join("", "{}", ((each,) for each in shown))


@register.inclusion_tag("kit/working.html", name="working")
def show_working(working: Working | None, is_open: bool = False) -> dict[str, Any]:
    """A figure that opens to how it was reached."""
    return {"working": working, "is_open": is_open}


@register.inclusion_tag("kit/caution.html", name="caution")
def show_caution(kind: str) -> dict[str, Caution]:
    """Words of care: "powder", "burnout", "pour", "quench" or "flux"."""
    return {"caution": find_caution(kind)}


@register.inclusion_tag("kit/cautions.html", name="cautions")
def show_cautions(*kinds: str | Iterable[str]) -> dict[str, Any]:
    """Several words of care together, each once, with what all of them end in said once; "" is none."""
    named = [one for kind in kinds for one in ([kind] if isinstance(kind, str) else kind) if one]
    return {"cautions": [find_caution(kind) for kind in dict.fromkeys(named)]}


@register.inclusion_tag("kit/picture.html", takes_context=True, name="picture")
def show_picture(context: Context, picture: Picture | None) -> dict[str, Any]:
    """A chart drawn for each width it may get, with its figures as a table unless its own words give them all."""
    if not picture:
        return {"picture": None}
    number = _next_number(context)
    drawings = [
        (width, render_svg(replace(picture, width=width), f"{number}-{width}")) for width in PICTURE_WIDTHS
    ]
    return {"picture": picture, "drawings": drawings}


def _next_number(context: Context) -> int:
    """Counts pictures within a request, so that a page is the same each time and no id stands on it twice."""
    request = context.get("request")
    if request is None:
        return next(_numbers)
    request.pictures_shown = getattr(request, "pictures_shown", 0) + 1
    return int(request.pictures_shown)
