"""Postings of reclaim: failed castings and tins cleaned, lots put together in a tin, and taken out of it by weight."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from inventory.core.alloying import compute_mean_melts_milli
from inventory.core.ledger import share_out
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Entry, Holder, Lot, Movement, Tin
from inventory.queries.ledger import name_lot
from inventory.queries.shelf import holding_plans, promised
from inventory.queries.tins import lots_in_tin
from studio.kit.printing import print_mass

from .assaying import say_as_known
from .book import Book, Draft, balance_of, open_book
from .buying import make_lot
from .closing import take_back_gain
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused

What = Movement.What
_WEIGHINGS = 2


@dataclass(frozen=True)
class Cleaned:
    """Failed castings or buttons in a tin, all that is left of the lot, and what they weigh without investment, in
    milligrams."""

    lot: Lot
    mass_mg: int


def post_cleaned(lot: Lot, mass_mg: int, day: date, note: str = "", by: User | None = None) -> Lot:
    """Weigh failed castings, or the buttons of a tin, again once their investment is off; returns the clean lot that
    they become, in the same tin.

    A cast's charge is known to the milligram, so what was investment on its castings was metal that the pour had lost:
    the difference goes to "lost" with its share of fine metal and cost. Of a tin nobody knows which cast it was of.
    Raises Refused for more than there was.
    """
    with open_book(by) as book:
        return add_cleaned(book, Cleaned(lot, mass_mg), day, note)


def add_cleaned(book: Book, cleaned: Cleaned, day: date, note: str = "") -> Lot:
    book.read(cleaned.lot)
    lot, holder = cleaned.lot, cleaned.lot.holder
    if not lot.may_be_cleaned:
        raise Refused(
            f"{name_lot(lot)} is no lot of failed castings or of a tin: there is nothing to clean off."
        )
    if holder.quantity == 0:
        raise Refused(f"{name_lot(lot)} holds nothing any more.", "mass")
    if cleaned.mass_mg <= 0:
        raise Refused("Write what they weigh now, more than nothing.", "mass")
    draft = book.begin(Entry.Kind.CLEANED, day, cast=lot.from_cast, note=note)
    off_mg = holder.quantity - cleaned.mass_mg
    clean = _lot_like(book, draft, lot, Lot.Origin.CLEAN)
    clean.from_cast, clean.tin, clean.kept_in = lot.from_cast, lot.tin, lot.kept_in
    kept, off = share_out(balance_of(holder), [min(cleaned.mass_mg, holder.quantity), max(off_mg, 0)])
    book.move(draft, holder, clean.holder, kept)
    say_as_known(clean, [(lot, kept)])
    book.move(draft, holder, book.outside(Holder.Place.LOST), off, What.LOSS)
    if off_mg < 0 and not _takes_back(book, draft, clean, -off_mg):
        raise Refused(
            f"They weighed {print_mass(cleaned.mass_mg + off_mg)} with investment on, so they cannot weigh more "
            "without it. Weigh again, or mend the weights of the cast.",
            "mass",
        )
    return clean


def _takes_back(book: Book, draft: Draft, clean: Lot, gain_mg: int) -> bool:
    """Whether the scale can explain a gain. It comes out of what the cast lost; where no cast is known nobody can say
    what was lost, and the grams stay what they were."""
    if clean.from_cast is None:
        explained = compute_weighing_uncertainty(book.studio.scale_division_mg, _WEIGHINGS)
        return gain_mg <= explained.tolerance_mg
    return take_back_gain(book, draft, clean.holder, gain_mg, _WEIGHINGS) is None


@dataclass(frozen=True)
class Together:
    """Lots that go whole into a tin, those that were in it before among them."""

    tin: Tin
    put: Sequence[Lot]


def post_together(
    tin: Tin, lots: Sequence[Lot], day: date, note: str = "", by: User | None = None
) -> Lot | None:
    """Put lots into a tin, all of each; returns the one lot that it holds now.

    Raises Refused for a closed tin, for nothing, and for a lot of another material, kind or owner.
    """
    with open_book(by) as book:
        book.read(tin)
        if not tin.is_open:
            raise Refused(f"{tin} is closed. Open it again, or choose another tin.")
        put = list({lot.pk: lot for lot in lots}.values())
        book.read(*put)
        for lot in put:
            if not lot.holder.quantity:
                raise Refused(f"{name_lot(lot)} holds nothing any more. Leave it out.", "lots")
        if not put:
            raise Refused("Tick at least one lot to put in.", "lots")
        inside = [lot for lot in lots_in_tin(tin) if lot not in put]
        _refuse_promised(put)
        return add_together(book, Together(tin, [*inside, *put]), day, note)


def add_together(book: Book, given: Together, day: date, note: str = "") -> Lot | None:
    """None where nothing is left to put together, as when everything in it was mended away: then nothing is written."""
    lots = _standing(book, given.put)
    for lot in lots:
        _refuse_unlike(given.tin, lot)
    if book.again is not None:
        # What was mended may have come a day later than somebody wrote.
        day = max([day, *(lot.received_on for lot in lots)])
    return put_together(book, given.tin, lots, day, note)


def put_together(book: Book, tin: Tin, lots: Sequence[Lot], day: date, note: str = "") -> Lot | None:
    """Empty lots that are in hand, and alike, into a new one of the tin."""
    lots = [lot for lot in lots if lot.holder.quantity]
    if not lots:
        return None
    draft = book.begin(Entry.Kind.TOGETHER, day, note=note)
    made = make_lot(book, draft, tin.material, tin.kind)
    made.tin, made.owner, made.kept_in = tin, tin.owner, tin.name
    made.melts_milli = compute_mean_melts_milli([(lot.holder.quantity, lot.melts_milli) for lot in lots])
    _know_of(made, lots)
    taken = [(lot, book.take(draft, lot.holder, made.holder, lot.holder.quantity)) for lot in lots]
    say_as_known(made, taken)
    return made


@dataclass(frozen=True)
class Apart:
    """So many milligrams out of the lot that a tin holds."""

    lot: Lot
    quantity: int


def post_apart(lot: Lot, mass_mg: int, day: date, note: str = "", by: User | None = None) -> Lot:
    """Take so much out of a tin, into a lot of its own. Raises Refused for more than is there."""
    with open_book(by) as book:
        return add_apart(book, Apart(lot, mass_mg), day, note)


def add_apart(book: Book, apart: Apart, day: date, note: str = "") -> Lot:
    book.read(apart.lot)
    lot = apart.lot
    if lot.tin_id is None:
        raise Refused(f"{name_lot(lot)} is in no tin: it lies by itself already.")
    if apart.quantity <= 0:
        raise Refused("Write how much is taken out, more than nothing.", "quantity")
    draft = book.begin(Entry.Kind.APART, day, note=note)
    made = _lot_like(book, draft, lot, lot.origin)
    taken = book.take(draft, lot.holder, made.holder, apart.quantity, field="quantity")
    say_as_known(made, [(lot, taken)])
    return made


def fill_tin(book: Book, lot: Lot, day: date) -> None:
    """Put the clean reclaim that a cast has just left into the open tin of its sort, if there is one; the newest."""
    tins = Tin.objects.filter(material=lot.material, kind=lot.origin, owner=lot.owner_id, is_open=True)
    tin = tins.select_related("material", "owner").order_by("-pk").first()
    if tin is None:
        return
    inside = lots_in_tin(tin)
    book.read(*inside)
    # What is in it may have moved later than this cast was weighed out.
    days = [one.holder.latest_day for one in inside if one.holder.latest_day]
    put_together(book, tin, [*inside, lot], max([day, *days]))


def _standing(book: Book, lots: Sequence[Lot]) -> list[Lot]:
    """Lots read under the lock, without those that are not there any more because something earlier was mended."""
    there = set(Lot.objects.filter(pk__in=[lot.pk for lot in lots], void=False).values_list("pk", flat=True))
    found = [lot for lot in lots if lot.pk in there]
    book.read(*found)
    return found


def _refuse_promised(lots: Sequence[Lot]) -> None:
    """What a plan holds it holds as the lot that it is."""
    taken = promised()
    for lot in lots:
        if lot.pk in taken:
            raise Refused(
                f"{_name_plans(lot)} {print_mass(taken[lot.pk])} of {name_lot(lot)}. Let it go on the plan's page "
                "first, or leave the lot out.",
                "lots",
            )


def _name_plans(lot: Lot) -> str:
    names = [plan.title for plan in holding_plans(lot)]
    told = " and ".join(f"“{name}”" for name in names)
    return (
        f"The plan {told} holds" if len(names) == 1 else f"The plans {told} hold" if names else "A plan holds"
    )


def _refuse_unlike(tin: Tin, lot: Lot) -> None:
    """Metal of two owners is never mixed, and a tin's lot is of one alloy and one kind."""
    if lot.origin != tin.kind or lot.material_id != tin.material_id:
        sort = tin.get_kind_display()
        raise Refused(
            f"{name_lot(lot)} does not belong in {tin}, which takes {sort} of {tin.material.alloy}.", "lots"
        )
    if lot.owner_id != tin.owner_id:
        whose = f"{lot.owner}'s" if lot.owner else "the studio's"
        raise Refused(f"{name_lot(lot)} is {whose}: metal of two owners is never put together.", "lots")


def _lot_like(book: Book, draft: Draft, lot: Lot, origin: str) -> Lot:
    made = make_lot(book, draft, lot.material, origin)
    made.owner, made.melts_milli = lot.owner, lot.melts_milli
    _know_of(made, [lot])
    return made


def _know_of(made: Lot, lots: Sequence[Lot]) -> None:
    """What is made of several lots is known no better than the least known of them."""
    made.melts_are_guess = any(lot.melts_are_guess for lot in lots)
    made.cost_is_estimate = any(lot.cost_is_estimate for lot in lots)


def open_tin(tin: Tin, is_open: bool) -> None:
    """Say whether more may be put in. Nothing moves."""
    with studio_locked():
        bring_up_to_date([tin])
        tin.is_open = is_open
        tin.save(update_fields=["is_open"])
