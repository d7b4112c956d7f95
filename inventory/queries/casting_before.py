"""What was done the last time with an alloy and in a flask: the answers that the next cast starts with."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby

from django.db.models import F, Sum

from inventory.core.pieces import name_without_number
from inventory.models import Cast, Entry, Firing, Lot, Movement, TreePart
from studio.kit.models import only_one

from .cast_metal import CHARGE, INTO, WEIGHED_OUT
from .casting_choices import last_firings
from .ledger import STANDING

LAST_CASTS = 12


@dataclass(frozen=True)
class Beginning:
    """What is known of a cast before it is written: keys of its alloy and flask, or the cast that it is to be like."""

    alloy: int | None = None
    flask: int | None = None
    like: Cast | None = None


@dataclass(frozen=True)
class LastTime:
    """The latest closed cast of the alloy, in the same flask if there was one, and what it was made of.

    `powder_mg` is what the flask took last, whatever the alloy. `pieces` are names and counts, of a cast that the
    next one is to be like.
    """

    cast: Cast | None = None
    charged: Sequence[Lot] = ()
    pattern: int | None = None
    powder_mg: int | None = None
    pieces: Sequence[tuple[str, int]] = ()
    firings: Sequence[Firing] = field(default_factory=list)


def read_last_time(begun: Beginning) -> LastTime:
    """A handful of queries, whatever is in the studio."""
    cast = begun.like if begun.like and begun.alloy in (None, begun.like.alloy_id) else _latest_of(begun)
    return LastTime(
        cast=cast,
        charged=_charged_lots(cast) if cast else (),
        pattern=_pattern_of(cast) if cast else None,
        powder_mg=powder_of_flask(begun.flask),
        pieces=_named_pieces(begun.like) if begun.like else (),
        firings=last_firings(),
    )


def find_like(number: int) -> Cast | None:
    """A cast that another one is to be like."""
    return only_one(Cast.objects.filter(number=number))


def _latest_of(begun: Beginning) -> Cast | None:
    # Both walk back from the newest cast; ordered by the flask, every cast of the alloy would be read.
    casts = Cast.objects.filter(WEIGHED_OUT, alloy=begun.alloy, owner=None).order_by("-number")
    same = casts.filter(flask=begun.flask).first() if begun.flask else None
    return same or casts.first()


def _charged_lots(cast: Cast) -> list[Lot]:
    lines = Movement.objects.filter(STANDING, INTO[CHARGE], entry__cast=cast)
    return [
        line.source.lot for line in lines.order_by("entry_id", "line").select_related("source__lot__material")
    ]


def _pattern_of(cast: Cast) -> int | None:
    parts = TreePart.objects.filter(cast=cast, void=False).order_by("id")
    return parts.values_list("material", flat=True).first()


def powder_of_flask(flask: int | None) -> int | None:
    """Milligrams of powder that the latest cast in a flask took; None where nobody wrote it down of the last ones."""
    if flask is None:
        return None
    last = list(
        Cast.objects.filter(flask=flask).order_by("-number").values_list("pk", flat=True)[:LAST_CASTS]
    )
    taken = Movement.objects.filter(STANDING, entry__kind=Entry.Kind.POWDER, entry__cast__in=last)
    by_cast = taken.order_by().values(number=F("entry__cast__number")).annotate(mass=Sum("quantity"))
    return by_cast.order_by("-number").values_list("mass", flat=True).first()


def _named_pieces(cast: Cast) -> list[tuple[str, int]]:
    """Castings of one name that were numbered, as one line with their count."""
    names = cast.pieces.filter(void=False).order_by("number").values_list("name", flat=True)
    plain = [name_without_number(name) for name in names]
    return [(name, len(list(same))) for name, same in groupby(plain)]
