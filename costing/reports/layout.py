"""What the reports have in common: the document's frame, and what they print to."""

from collections.abc import Sequence
from datetime import date

from django.utils import timezone

from costing.models import Policy
from inventory.models import Studio
from studio.kit.documents import Block, Column, Document, Filled
from studio.kit.printing import SPACE, print_date
from studio.kit.rounding import round_to_unit

PRINTED_FINE_UG = 1_000


def penny_of(studio: Studio) -> int:
    """The last unit of money that the studio's pages show, in millionths: a hundredth is 10,000."""
    return int(10 ** (6 - studio.money_decimals))


def make_document(
    studio: Studio,
    title: str,
    blocks: Sequence[Block],
    filename: str,
    subtitle: str = "",
    period_text: str = "",
) -> Document:
    return Document(
        title=title,
        subtitle=subtitle,
        studio=studio.name,
        made_on=timezone.localdate(),
        period_text=period_text,
        blocks=tuple(blocks),
        filename=filename,
        currency=studio.currency,
    )


def round_column(column: Column, exact: Sequence[int], unit: int) -> Filled:
    """A column of exact amounts, printed to a unit.

    Every figure and the total is the exact one rounded by itself: they stand in other tables, too, in other company,
    and are the same everywhere.
    """
    return Filled(column, [round_to_unit(one, unit) for one in exact], round_to_unit(sum(exact), unit))


def say_rounding(*filled: Filled) -> str:
    """What to know of printed columns that do not add up to the totals printed below them; "" when they do."""
    if all(sum(cell for cell in one.cells if isinstance(cell, int)) == one.total for one in filled):
        return ""
    return "Each figure is rounded by itself, so the last digits need not add up."


def say_period(first: date, last: date) -> str:
    return f"{say_day(first)} to {say_day(last)}"


def say_rules(policy: Policy, cast_day: date) -> str:
    """What to know of the rules that costed a cast; "" when they were in force on its day."""
    if not policy.pk:
        return "There are no cost rules yet, so time and energy cost nothing here."
    if cast_day < policy.from_day:
        first = say_day(policy.from_day)
        return (
            f"It was cast before your oldest cost rules, which begin on {first}: they cost it all the same."
        )
    return ""


def say_day(day: date) -> str:
    return print_date(day).replace(SPACE, " ")
