"""A cast that ends without a pour: the flask cracked, the power went, or it was begun by mistake."""

from datetime import date

from django.contrib.auth.models import User
from django.db.models import Max

from inventory.models import Cast, CastMoment, Entry, Plan
from inventory.queries.fineness import assays_carried_on_to
from inventory.queries.ledger import TURN, standing_entries
from studio.kit.printing import print_day

from .book import open_book
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .reversal import take_back

NOTE_MAX = 2000


def post_unpoured(cast: Cast, day: date, why: str = "", by: User | None = None) -> None:
    """End a cast with what it used. Metal that was weighed for it goes back to its lots; the rest stays used, and its
    cost is set aside. Raises Refused for a cast that was weighed out, and for a day before its own or before something
    was used."""
    with open_book(by) as book:
        book.read(cast)
        if cast.is_closed:
            raise Refused(f"Cast {cast.number} is closed already.")
        standing = standing_entries().filter(cast=cast)
        latest = standing.exclude(kind=Entry.Kind.CHARGE).aggregate(latest=Max("day"))["latest"]
        if latest is not None and day < latest:
            raise Refused(
                f"On {print_day(latest, with_year=True)} something was used for it. Choose that day or a later one.",
                "day",
            )
        if day < cast.day:
            begun = print_day(cast.day, with_year=True)
            raise Refused(f"Cast {cast.number} is of {begun}. Choose that day or a later one.", "day")
        if assays_carried_on_to(cast).exists():
            raise Refused(
                "Its metal was assayed in the crucible. Take the assay back first, then end the cast."
            )
        take_back(book, list(standing.filter(kind=Entry.Kind.CHARGE).order_by(TURN.desc(), "-pk")), why[:500])
        cast.closed_on, cast.outcome, cast.poured = day, Cast.Outcome.UNPOURED, False
        cast.note = "\n".join(part for part in (cast.note, why) if part)[:NOTE_MAX]
        cast.save(update_fields=["closed_on", "outcome", "poured", "note"])


def take_up_again(cast: Cast) -> None:
    """A cast that ended without a pour goes on after all."""
    with studio_locked():
        bring_up_to_date([cast])
        if cast.outcome != Cast.Outcome.UNPOURED:
            raise Refused(f"Cast {cast.number} did not end without a pour.")
        cast.closed_on, cast.outcome = None, ""
        cast.save(update_fields=["closed_on", "outcome"])


def used_nothing(cast: Cast) -> bool:
    """Whether nothing was ever written for a cast but that it was begun."""
    kept = (cast.entries, cast.tree_parts, cast.bench_times)
    is_unwritten = cast.firing_id is None and not cast.poured
    return is_unwritten and not any(rows.exists() for rows in kept)


def remove_begun(cast: Cast) -> None:
    """Remove a cast that was begun by mistake; its plan waits again. Raises Refused for one that used something."""
    with studio_locked():
        bring_up_to_date([cast])
        if not used_nothing(cast):
            raise Refused("Something was written for this cast already. End it without a pour instead.")
        Plan.objects.filter(cast=cast).update(cast=None)
        CastMoment.objects.filter(cast=cast).delete()
        holder = cast.crucible_holder
        cast.delete()
        holder.delete()
