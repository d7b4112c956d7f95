"""Reads of casts: what was charged, what came out, what is still lost, what to do next."""

from collections.abc import Sequence
from datetime import date
from functools import cache
from typing import Any

from django.db import models
from django.db.models.functions import Coalesce

from inventory.core.casting import find_next_step
from inventory.core.ledger import Amount
from inventory.core.tree import PastLoss
from inventory.models import Alloy, Cast, Entry, Holder, Movement, TreePart

from .cast_metal import BACK, CHARGE, FILINGS, INTO, LOST, WEIGHED_OUT, moves_part, sum_part
from .ledger import STANDING, stands

PAST_CASTS = 12


def charged_portions(cast: Cast) -> list[tuple[int, int]]:
    """(milligrams, melts in thousandths) of each portion weighed into the crucible and not reversed."""
    return list(
        Movement.objects.filter(STANDING, INTO[CHARGE], entry__cast=cast).values_list(
            "quantity", "source__lot__melts_milli"
        )
    )


def losses_by_day(cast: Cast) -> list[tuple[date, Amount]]:
    """Every change of what a cast counts as lost, signed: at the pour and in finishing, less what was found since."""
    rows = Movement.objects.filter(moves_part(LOST), STANDING, entry__cast=cast).values_list(
        "target__place", "day", "quantity", "fine_ug", "cost_micro"
    )
    signed = [(1 if place == Holder.Place.LOST else -1, day, numbers) for place, day, *numbers in rows]
    return [(day, Amount(*(sign * number for number in numbers))) for sign, day, numbers in signed]


@cache
def sum_in_cast(part: str) -> Coalesce:
    """Milligrams of a part of a cast, as a piece of a query over casts."""
    rows = (
        Movement.objects.filter(moves_part(part), STANDING, entry__cast=models.OuterRef("pk"))
        .order_by()
        .values("entry__cast")
        .annotate(total=sum_part(part))
        .values("total")
    )
    return Coalesce(models.Subquery(rows, output_field=models.IntegerField()), 0)


def casts_with_grams() -> models.QuerySet[Cast]:
    """Casts with `charge_mg`, `pieces_mg`, `back_mg`, `filings_mg`, `lost_mg` as they stand today.

    The four parts are None while a cast is open. The pieces are what is left of the other three, so that the
    database reads no more than those.
    """
    return Cast.objects.select_related("alloy", "owner").annotate(
        charge_mg=sum_in_cast(CHARGE),
        back_mg=_when_closed(sum_in_cast(BACK)),
        filings_mg=_when_closed(sum_in_cast(FILINGS)),
        lost_mg=_when_closed(sum_in_cast(LOST)),
        pieces_mg=models.F("charge_mg") - models.F("back_mg") - models.F("filings_mg") - models.F("lost_mg"),
    )


def charged_and_lost(cast: int) -> tuple[int, int]:
    """Milligrams that a cast was charged with, and that it counts as lost today."""
    return _charged_and_lost(Cast.objects.filter(pk=cast))[0]


def _charged_and_lost(casts: models.QuerySet[Cast]) -> list[tuple[int, int]]:
    """Of each cast, in no order; one that is open has lost nothing yet."""
    lost = Coalesce(_when_closed(sum_in_cast(LOST)), 0)
    return list(casts.order_by().values_list(sum_in_cast(CHARGE), lost))


def _when_closed(part: Coalesce) -> models.Case:
    return models.Case(
        models.When(closed_on__isnull=False, then=part), default=None, output_field=models.IntegerField()
    )


def with_steps(casts: models.QuerySet[Cast]) -> models.QuerySet[Cast]:
    """The same casts with `has_tree`, `has_powder` and `has_charge`, from which `next_step_of` tells what to do."""
    entries = Entry.objects.filter(stands(), cast=models.OuterRef("pk")).order_by()
    return casts.annotate(
        has_tree=models.Exists(TreePart.objects.filter(cast=models.OuterRef("pk"), void=False)),
        has_powder=models.Exists(entries.filter(kind=Entry.Kind.POWDER)),
        has_charge=models.Exists(entries.filter(kind=Entry.Kind.CHARGE)),
        is_open=models.Case(
            models.When(closed_on__isnull=True, then=models.Value(True)),
            default=models.Value(False),
            output_field=models.BooleanField(),
        ),
    )


def done_steps(cast: Cast, has_tree: bool, has_powder: bool, has_charge: bool) -> set[str]:
    """The steps of a cast that are done, in the words of `inventory.core.casting.STEPS`."""
    done = {
        "tree": has_tree,
        "powder": has_powder,
        "firing": cast.firing_id is not None,
        "charge": has_charge,
        "pour": cast.poured,
        "weights": cast.is_closed,
    }
    return {step for step, is_done in done.items() if is_done}


def next_step_of(cast: Cast) -> str:
    """The next step of a cast read through `with_steps`; "" when it is closed."""
    return "" if cast.is_closed else find_next_step(_done_steps(cast))


def open_casts(most: int = 20) -> list[Cast]:
    """Casts under way, the one that is furthest on first; of two alike the older."""
    casts = list(
        with_steps(Cast.objects.filter(closed_on__isnull=True).select_related("alloy", "owner"))[:most]
    )
    return sorted(casts, key=lambda cast: (-len(_done_steps(cast)), cast.day, cast.number))


def _done_steps(cast: Any) -> set[str]:
    return done_steps(cast, cast.has_tree, cast.has_powder, cast.has_charge)


def last_closed_casts(most: int = 12) -> Sequence[Cast]:
    """The latest closed casts with their grams, oldest first."""
    latest = casts_with_grams().filter(WEIGHED_OUT).order_by("-day", "-number")[:most]
    return list(latest)[::-1]


def count_weighings(cast: Cast) -> int:
    """How often the metal of a cast was on the scale until it was weighed out: its charge, and what came of it."""
    weighed = Movement.objects.filter(
        STANDING, entry__cast=cast, entry__kind__in=(Entry.Kind.CHARGE, Entry.Kind.CLOSE), quantity__gt=0
    )
    return weighed.exclude(moves_part(LOST)).count()


def past_loss(alloy: Alloy) -> PastLoss:
    """What the last casts of an alloy that came out charged and lost."""
    good = Cast.objects.filter(alloy=alloy, closed_on__isnull=False, outcome=Cast.Outcome.GOOD)
    newest = good.order_by("-number").values("pk")[:PAST_CASTS]
    latest = _charged_and_lost(Cast.objects.filter(pk__in=newest))
    return PastLoss(len(latest), sum(charge for charge, _ in latest), sum(lost for _, lost in latest))
