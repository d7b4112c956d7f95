"""How long what wears still lasts, and the day by which another must be ordered.

Lives and uses are counted in the unit of the thing: hours, melts, casts or days.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import floor

from studio.kit.printing import print_date, print_decimal
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .reorder import FARTHEST_DAYS

STATED_COUNTS_FOR = 2
"""As many of the studio's own replacements as the life that was written down counts for: a starting value."""
WATCHED_DAYS = 182
AHEAD_DAYS = 14
"""So many days before it must be ordered it is told of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn:
    """What is known of a thing: how much it was used since it was new, and its stated life.

    `lives` are what those before it came to; `recent` was used in the last `days` days, `lead_days` takes another to
    come.
    """

    used: int
    life: int
    unit: str
    recent: int
    days: int
    lead_days: int
    today: date
    lives: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class WearOutlook:
    """`left` of its expected life is zero where it has outlived it; days are None where no end is in sight."""

    used: int
    life: int
    left: int
    worn_out_on: date | None
    order_by: date | None
    is_near: bool
    working: Working


def compute_wear_out(worn: Worn) -> WearOutlook:
    """When a thing is worn out at the pace of late, and by when to order another."""
    life = Fraction(STATED_COUNTS_FOR * worn.life + sum(worn.lives), STATED_COUNTS_FOR + len(worn.lives))
    left = max(life - worn.used, Fraction(0))
    days_left = floor(left * worn.days / worn.recent) if worn.recent > 0 else None
    if not left:
        days_left = 0
    if days_left is not None and days_left > FARTHEST_DAYS:
        days_left = None
    worn_out_on = order_by = None
    if days_left is not None:
        worn_out_on = worn.today + timedelta(days=days_left)
        order_by = max(worn_out_on - timedelta(days=worn.lead_days), worn.today)
    is_near = order_by is not None and order_by - worn.today <= timedelta(days=AHEAD_DAYS)
    return WearOutlook(
        worn.used,
        round_half_up(life),
        round_half_up(left),
        worn_out_on,
        order_by,
        is_near,
        _work(worn, life, left, worn_out_on, order_by),
    )


def _work(
    worn: Worn, life: Fraction, left: Fraction, worn_out_on: date | None, order_by: date | None
) -> Working:
    given = [
        Given("used since it was new", _say(worn.used, worn.unit), "your records"),
        Given("its life as written down", _say(worn.life, worn.unit), "its own page"),
        Given("used of late", f"{_say(worn.recent, worn.unit)} in {worn.days} days", "your records"),
        Given("another takes", f"{worn.lead_days} days to come", "its own page"),
    ]
    steps = []
    if worn.lives:
        count = len(worn.lives)
        given.append(Given("those before it lasted", _say(sum(worn.lives), worn.unit), f"{count} replaced"))
        steps.append(
            Step(
                f"life to expect: ({STATED_COUNTS_FOR} × {worn.life:,} + {sum(worn.lives):,}) ÷ "
                f"({STATED_COUNTS_FOR} + {count})",
                _say(life, worn.unit),
            )
        )
    steps.append(Step(f"left: {_number(life)} − {worn.used:,}, not below zero", _say(left, worn.unit)))
    if worn_out_on is not None and order_by is not None:
        if left and worn.recent:
            text = f"used up at {worn.recent:,} in {worn.days} days: {_number(left)} × {worn.days} ÷ {worn.recent:,}"
            steps.append(
                Step(text, f"{(worn_out_on - worn.today).days:,} days, on {print_date(worn_out_on)}")
            )
        steps.append(Step(f"order {worn.lead_days} days before, and not before today", print_date(order_by)))
    return make_working(
        "How long it lasts",
        "its expected life less what it was used, at the pace of late",
        *given,
        *steps,
        result=f"until about {print_date(worn_out_on)}" if worn_out_on else "no end in sight",
        notes=(f"The life that is written down counts for {STATED_COUNTS_FOR} of your own replacements.",),
    )


def _number(amount: Fraction | int) -> str:
    return print_decimal(round_half_up(amount * 10), 1, most=1)


def _say(amount: Fraction | int, unit: str) -> str:
    number = _number(amount)
    return f"{number} {unit.removesuffix('s') if number == '1' else unit}"
