"""What the reports have in common: the document's frame, and the units to which they print."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from costing.models import Policy
from inventory.models import Studio
from studio.kit.documents import Block, Document
from studio.kit.printing import SPACE, print_date
from studio.kit.rounding import round_to_unit

PRINTED_FINE_UG = 1_000


def penny_of(studio: Studio) -> int:
    """The last unit of money that the studio's pages show, in millionths: a hundredth is 10,000."""
    return int(10 ** (6 - studio.money_decimals))


def make_document(
    studio: Studio,
    name: str,
    title: str,
    blocks: Sequence[Block],
    subtitle: str = "",
    period_text: str = "",
    filename: str = "",
) -> Document:
    return Document(
        name=name,
        title=title,
        subtitle=subtitle,
        studio=studio.name,
        made_on=timezone.localdate(),
        period_text=period_text,
        blocks=tuple(blocks),
        filename=filename or name,
        currency=studio.currency,
    )


@dataclass(frozen=True, slots=True)
class RoundedColumns:
    """Amounts as printed, row by row, the totals below them, and what to know where those do not add up."""

    rows: list[tuple[int, ...]]
    totals: tuple[int, ...]
    note: str


def round_columns(*columns: tuple[Sequence[int], int]) -> RoundedColumns:
    """Columns of exact amounts, each with its printed unit.

    Every figure and every total is the exact one rounded by itself: they stand in other tables, too, in other company,
    and are the same everywhere.
    """
    rows = list(
        zip(*([round_to_unit(one, unit) for one in amounts] for amounts, unit in columns), strict=True)
    )
    totals = tuple(round_to_unit(sum(amounts), unit) for amounts, unit in columns)
    return RoundedColumns(rows, totals, say_rounding(rows, totals))


def say_rounding(rows: Sequence[Sequence[int]], totals: Sequence[int]) -> str:
    """What to know of printed figures that do not add up to the totals printed below them; "" when they do."""
    if all(sum(row[place] for row in rows) == total for place, total in enumerate(totals)):
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
