"""Postings of a cast: tree, powder, charge, and the weights after the pour that empty its crucible."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.contrib.auth.models import User
from django.db import connection

from inventory.core.ledger import Amount, draw, least_quantity, total_of
from inventory.models import (
    Alloy,
    BenchTime,
    Cast,
    Customer,
    Entry,
    Equipment,
    Firing,
    Holder,
    Lot,
    Material,
    Movement,
    TreePart,
)
from inventory.queries.casting import charged_portions, losses_by_day
from inventory.queries.ledger import name_lot
from studio.kit.printing import print_day
from studio.kit.units import divide_half_up

from .assaying import KNOWN_FIELDS, is_of_its_metal, known_in, known_portion, set_known
from .book import Book, Draft, open_book
from .casting_records import FiringRecord, record_firing
from .closing import Weights, add_close, make_reclaim_lot
from .reclaim import fill_tin
from .refusal import Refused
from .writing import blank

What = Movement.What
Place = Holder.Place


@dataclass(frozen=True)
class CastFacts:
    """What a cast is, before anything is used for it."""

    title: str
    day: date
    alloy: Alloy
    owner: Customer | None = None
    flask: Equipment | None = None
    crucible: Equipment | None = None
    machine: Equipment | None = None
    pump: Equipment | None = None
    note: str = ""


@dataclass(frozen=True)
class PourNotes:
    """What was read at the pour: temperatures in C, vacuum in tenths of an inch of mercury."""

    metal_c: int | None = None
    flask_c: int | None = None
    vacuum_inhg_tenths: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Portion:
    """So much of one lot, in the small unit of its material."""

    lot: Lot
    quantity: int


@dataclass(frozen=True)
class TreeRecord:
    """One material of a tree: from a lot, or of a material whose lot nobody noted (which then costs nothing)."""

    material: Material
    quantity: int
    lot: Lot | None = None


@dataclass(frozen=True)
class TimeRecord:
    """Time on a cast as a whole; `task` is one of Task, or "" where it was not said."""

    minutes: int
    what: str = ""
    task: str = ""


@dataclass(frozen=True)
class CastRecord:
    """A whole cast as it is written down afterwards."""

    facts: CastFacts
    charge: Sequence[Portion]
    weights: Weights
    tree: Sequence[TreeRecord] = ()
    powder: Sequence[Portion] = ()
    water_mg: int | None = None
    firing: Firing | FiringRecord | None = None
    pour: PourNotes = field(default_factory=PourNotes)
    bench: Sequence[TimeRecord] = ()
    closed_on: date | None = None
    prepared_on: date | None = None


def post_cast(record: CastRecord, by: User | None = None) -> Cast:
    """Post a whole cast at once: all of it, or, when Refused is raised, none."""
    lots = [portion.lot for portion in (*record.charge, *record.powder)]
    lots += [part.lot for part in record.tree if part.lot is not None]
    day = record.facts.day
    before = record.prepared_on or day
    with open_book(by) as book:
        book.read(*lots)
        cast = new_cast(book, record.facts)
        cast.firing, cast.water_mg, cast.poured = record_firing(record.firing), record.water_mg, True
        _set_pour(cast, record.pour)
        if record.tree:
            add_tree(book, cast, record.tree, before)
        if record.powder:
            add_powder(book, cast, record.powder, before)
        add_charge(book, cast, record.charge, day)
        portions = [(portion.quantity, portion.lot.melts_milli) for portion in record.charge]
        closed_on = record.closed_on or day
        _fill_tin(book, add_close(book, cast, record.weights, portions, closed_on), closed_on)
        for time in record.bench:
            book.make(BenchTime(cast=cast, day=day, minutes=time.minutes, what=time.what, task=time.task))
    return cast


def post_start(facts: CastFacts, by: User | None = None) -> Cast:
    """Begin a cast that will be recorded step by step."""
    with open_book(by) as book:
        return new_cast(book, facts)


def post_tree(cast: Cast, parts: Sequence[TreeRecord], day: date, by: User | None = None) -> None:
    """Record what the tree is made of and take it from the lots that are named."""
    if not parts:
        raise Refused("Write what the tree is made of and what it weighs.", "tree")
    with open_book(by) as book:
        book.read(cast, *(part.lot for part in parts if part.lot))
        add_tree(book, cast, parts, day)


def post_powder(
    cast: Cast,
    portions: Sequence[Portion],
    water_mg: int | None,
    day: date,
    by: User | None = None,
) -> None:
    """Record the powder and water of a cast's mould and take the powder from its lots."""
    if not portions:
        raise Refused("Write which lot of powder was mixed, and how much.", "powder")
    with open_book(by) as book:
        book.read(cast, *(portion.lot for portion in portions))
        add_powder(book, cast, portions, day)
        cast.water_mg = water_mg
        cast.save(update_fields=["water_mg"])


def post_charge(cast: Cast, portions: Sequence[Portion], day: date, by: User | None = None) -> None:
    """Weigh portions of lots into the crucible; more may be added until the cast is closed."""
    if not portions:
        raise Refused("Write at least one lot and how much of it goes in.", "charge")
    with open_book(by) as book:
        book.read(cast, *(portion.lot for portion in portions))
        _refuse_closed(cast)
        add_charge(book, cast, portions, day)
        cast.save(update_fields=KNOWN_FIELDS)


def record_pour(cast: Cast, notes: PourNotes) -> None:
    """Write down what was read at the pour. No stock moves."""
    cast.poured = True
    _set_pour(cast, notes)
    cast.save(update_fields=["poured", "metal_c", "flask_c", "vacuum_inhg_tenths", "pour_note"])


def post_close(cast: Cast, weights: Weights, day: date, by: User | None = None) -> None:
    """Empty the crucible: pieces, reclaim and what is lost. Raises Refused for what cannot be."""
    with open_book(by) as book:
        book.read(cast)
        _refuse_closed(cast)
        _fill_tin(book, add_close(book, cast, weights, charged_portions(cast), day), day)
        cast.poured = True
        cast.save(update_fields=["alloy", "meant_alloy", "closed_on", "outcome", "poured"])


def _fill_tin(book: Book, lots: Mapping[str, Lot], day: date) -> None:
    """Put a cast's clean reclaim into its tin, where the studio has it so; otherwise nothing is asked."""
    if book.studio.fills_tins and Lot.Origin.CLEAN in lots:
        fill_tin(book, lots[Lot.Origin.CLEAN], day)


def post_found(
    cast: Cast,
    mass_mg: int,
    origin: str,
    day: date,
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Bring metal of a closed cast back from "lost", with its share of what was lost, into a lot of its own.

    Raises Refused for more than the cast counts as lost, on the day it was found and ever since.
    """
    with open_book(by) as book:
        return add_found(book, cast, Found(mass_mg, origin), day, note)


@dataclass(frozen=True)
class Found:
    """Milligrams of a closed cast that came to light, and what they are: spill, filings, sweeps."""

    mass_mg: int
    origin: str


def add_found(book: Book, cast: Cast, found: Found, day: date, note: str = "") -> Lot:
    book.read(cast)
    lost = _findable(cast, found.mass_mg, day)
    draft = book.begin(Entry.Kind.FOUND, day, cast=cast, note=note)
    portions = charged_portions(cast)
    lot = make_reclaim_lot(book, draft, cast, found.origin, portions)
    amount = draw(lost, found.mass_mg)
    book.move(draft, book.outside(Place.LOST), lot.holder, amount, What.LOSS)
    if cast.fine_low_ug is not None and not cast.fineness_is_guess:
        # Assayed since it was lost: what is lost is not put right, but what comes back is.
        charge_mg = sum(mass for mass, _ in portions)
        fine_ug = divide_half_up(cast.fine_low_ug * found.mass_mg, charge_mg)
        book.move(draft, lot.holder, book.outside(Place.ASSAY), Amount(fine_ug=amount.fine_ug))
        book.move(draft, book.outside(Place.ASSAY), lot.holder, Amount(fine_ug=fine_ug))
    return lot


def _findable(cast: Cast, mass_mg: int, day: date) -> Amount:
    """What the cast counts as lost today, of which `mass_mg` may have been found on `day`."""
    if mass_mg <= 0:
        raise Refused("Write how much was found, more than nothing.", "mass")
    if cast.closed_on is None:
        raise Refused("This cast is not closed yet: write the metal among its weights.", "mass")
    if day < cast.closed_on:
        closed = print_day(cast.closed_on, with_year=True)
        raise Refused(f"This cast was weighed out on {closed}: nothing of it was lost before.", "day")
    changes = losses_by_day(cast)
    lost = total_of(change for _, change in changes)
    if mass_mg > lost.quantity:
        raise Refused("That is more than this cast lost; a stock count can take in the rest.", "mass")
    if mass_mg > least_quantity(changes, since=day):
        raise Refused("That is more than this cast had lost by then. Choose a later day.", "day")
    # What a scale showed a hair too much of came out of "lost", and may have taken a unit of cost too many with it.
    return Amount(lost.quantity, max(lost.fine_ug, 0), max(lost.cost_micro, 0))


def new_cast(book: Book, facts: CastFacts) -> Cast:
    book.read(facts.alloy)
    cast = blank(Cast)
    cast.number, cast.crucible_holder = _next_number(), book.new_holder(Holder.Kind.CRUCIBLE)
    cast.title, cast.day, cast.note = facts.title, facts.day, facts.note
    cast.alloy, cast.owner = facts.alloy, facts.owner
    cast.flask, cast.crucible = facts.flask, facts.crucible
    cast.machine, cast.pump = facts.machine, facts.pump
    book.make_first(cast)
    return cast


def _next_number() -> int:
    # In plain words, for this is asked at every cast; the studio's row is locked, so nobody else asks meanwhile.
    with connection.cursor() as cursor:
        cursor.execute("SELECT COALESCE(MAX(number), 0) + 1 FROM inventory_cast")
        return int(cursor.fetchone()[0])


def add_tree(book: Book, cast: Cast, parts: Sequence[TreeRecord], day: date) -> None:
    draft = book.begin(Entry.Kind.TREE, day, cast=cast)
    has_lots = any(part.lot is not None for part in parts)
    for part in parts:
        material = part.material if part.lot is None else part.lot.material
        _refuse_other_kind(material, Material.Kind.PATTERN, "tree")
        if part.lot is not None:
            book.take(draft, part.lot.holder, book.outside(Place.USED), part.quantity, What.PATTERN, "tree")
        row = book.reuse(TreePart) or TreePart()
        row.cast, row.material, row.lot, row.quantity = cast, material, part.lot, part.quantity
        row.entry = draft.entry if has_lots else None
        book.make(row)


def add_powder(book: Book, cast: Cast, portions: Iterable[Portion], day: date) -> None:
    draft = book.begin(Entry.Kind.POWDER, day, cast=cast)
    for portion in portions:
        _refuse_other_kind(portion.lot.material, Material.Kind.POWDER, "powder")
        if book.again is None:
            _refuse_stale(portion.lot, day)
        book.take(draft, portion.lot.holder, book.outside(Place.USED), portion.quantity, field="powder")


def add_charge(book: Book, cast: Cast, portions: Iterable[Portion], day: date) -> None:
    portions = list(portions)
    _refuse_precious_as_base(cast, portions)
    known = known_in(cast)
    draft = book.begin(Entry.Kind.CHARGE, day, cast=cast)
    for portion in portions:
        _refuse_foreign(cast, portion.lot)
        amount = book.take(draft, portion.lot.holder, cast.crucible_holder, portion.quantity, field="charge")
        known += known_portion(cast, portion.lot, amount)
        _set_alloyed_aside(book, draft, cast, portion.lot, amount)
    set_known(cast, known)


def _set_alloyed_aside(book: Book, draft: Draft, cast: Cast, lot: Lot, amount: Amount) -> None:
    """Fine silver that goes into a gold alloy is there in grams but no longer counted as fine.

    A crucible counts the fine metal of its own alloy; that of another goes to a named place, so that fine
    metal still balances and reports can show where it went.
    """
    if amount.fine_ug and not is_of_its_metal(cast, lot):
        book.move(draft, cast.crucible_holder, book.outside(Place.ALLOYED), Amount(fine_ug=amount.fine_ug))


def _refuse_precious_as_base(cast: Cast, portions: Sequence[Portion]) -> None:
    """What is mostly silver is not bronze: its fine metal would go out of the count without a word."""
    if cast.alloy.metal != Alloy.Metal.BASE:
        return
    precious = [one for one in portions if one.lot.material.fineness]
    if 2 * sum(one.quantity for one in precious) > sum(one.quantity for one in portions):
        lot = precious[0].lot
        raise Refused(
            f"Lot {lot.pk} is {lot.material}, and this cast is called {cast.alloy}, which has no precious metal. "
            "Name the alloy for what it is, or take another lot.",
            "charge",
        )


def _refuse_foreign(cast: Cast, lot: Lot) -> None:
    """Customers' metal is never mixed with the studio's or with another customer's by accident."""
    if lot.material.kind != Material.Kind.METAL:
        raise Refused(f"Lot {lot.pk} is {lot.material}, which is not metal.", "charge")
    if lot.owner_id == cast.owner_id:
        return
    if cast.owner is None:
        raise Refused(
            f"{name_lot(lot)} belongs to {lot.owner}, and this cast is of the studio's own metal. "
            "Take another lot, or say that the cast is theirs.",
            "charge",
        )
    whose = str(lot.owner) if lot.owner else "the studio"
    raise Refused(
        f"{name_lot(lot)} belongs to {whose}, and this cast is of metal that belongs to {cast.owner}. "
        "Take one of their lots.",
        "charge",
    )


def _refuse_other_kind(material: Material, kind: Material.Kind, field: str) -> None:
    if material.kind != kind:
        raise Refused(f"{material} is {material.get_kind_display()}, and {kind.label} is wanted here.", field)


def _refuse_stale(lot: Lot, day: date) -> None:
    if lot.use_by is not None and day > lot.use_by:
        raise Refused(
            f"{name_lot(lot)} was to be used by {lot.use_by:%-d %b %Y}: stale powder can crack in the kiln. "
            "Take a fresher lot, or mend its use-by date if that was written wrong.",
            "powder",
        )


def _refuse_closed(cast: Cast) -> None:
    if cast.is_closed:
        raise Refused(
            f"Cast {cast.number} is closed. Mend its weights, or take them back first, if they are wrong."
        )


def _set_pour(cast: Cast, notes: PourNotes) -> None:
    cast.metal_c, cast.flask_c = notes.metal_c, notes.flask_c
    cast.vacuum_inhg_tenths, cast.pour_note = notes.vacuum_inhg_tenths, notes.note
