"""What the reports have in common: the document's frame, and columns that add up as they are printed."""

from collections.abc import Sequence
from datetime import date

from django.utils import timezone

from costing.models import Policy
from inventory.models import Studio
from studio.kit.apportion import round_to_add_up
from studio.kit.documents import Block, Document
from studio.kit.printing import SPACE, print_date

PRINTED_DECIMALS = 2
PRINTED_FINE_UG = 1_000


def penny_of(studio: Studio) -> int:
    """The last unit of money that a report prints, in millionths: at least a hundredth of the currency."""
    return int(10 ** (6 - min(studio.money_decimals, PRINTED_DECIMALS)))


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


def round_column(amounts: Sequence[int], unit: int) -> tuple[list[int], int]:
    """Amounts as printed to a unit, and their total: the figures that are shown add up to the one below them."""
    table = round_to_add_up([[amount] for amount in amounts], unit)
    return [cells[0] for cells in table.cells], table.total


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
