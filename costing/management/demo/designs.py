"""The demo's designs: what it cast all year by name, a new one that was never cast, and a quote for a shop's spring."""

from datetime import date, timedelta

from costing.management.demo.plans import BUD, CONE, FERN, HOOK, KNOB, LEAF, POD, TWIG
from costing.management.demo.plans import Design as Pattern
from costing.management.demo.setting import Setting, money
from costing.models import OutsideWork, Quote
from costing.posting.outside import write_outside
from costing.posting.prices import ask_prices
from costing.posting.quotes import write_lines
from inventory.models import Design, Piece
from inventory.posting.designs import claim_pieces, write_parts

IN_SILVER = {FERN: "Fern", POD: "Hedgerow", LEAF: "Ivy", BUD: "Hedgerow", TWIG: "Hedgerow", CONE: "Woodland"}
IN_BRONZE = {HOOK: "For the house", KNOB: "For the house"}
FOR_HOW_MANY = 4


def make_designs(things: Setting, today: date) -> None:
    """Designs of all names of the year, which take in their pieces; studs are finished with a pair of wires."""
    made = {}
    for alloy, collections in ((things.sterling, IN_SILVER), (things.bronze, IN_BRONZE)):
        for pattern, collection in collections.items():
            design = Design.objects.create(
                name=pattern.name,
                collection=collection,
                alloy=alloy,
                pattern_material=things.wax,
                pattern_mg=pattern.wax_mg,
            )
            wires = [(things.wires, 1)] if pattern == FERN else []
            write_parts(design, wires, _tasks(pattern))
            claim_pieces(design)
            made[pattern] = design
    moth = Design.objects.create(
        name="Moth brooch",
        collection="Night garden",
        alloy=things.sterling,
        pattern_material=things.wax,
        pattern_mg=1_220,
        note="Thin at the wing tips: cast it hotter than the leaf.",
    )
    write_parts(moth, [], [("file", "", 40, 2), ("polish", "", 30, 2)])
    ask_prices({made[FERN]: money(4_600), moth: money(11_800)}, today - timedelta(days=20), "for the year")
    _quote(things, made, today)
    _send_out(today)


def _tasks(pattern: Pattern) -> list[tuple[str, str, int, int]]:
    """Usual minutes for a tray, of which a third goes by cutting off and filing."""
    whole = pattern.finish_minutes * FOR_HOW_MANY
    filing = whole // 3
    return [("file", "", filing, FOR_HOW_MANY), ("polish", "", whole - filing, FOR_HOW_MANY)]


def _quote(things: Setting, made: dict[Pattern, Design], today: date) -> None:
    quote = Quote.objects.create(
        name="A shop's spring window",
        alloy=things.sterling,
        made_on=today - timedelta(days=2),
        wanted_on=today + timedelta(days=42),
        note="They would like the charms on cards.",
    )
    write_lines(quote, [(made[FERN], 12, None, None), (made[LEAF], 6, None, None)])


def _send_out(today: date) -> None:
    """The last brooches were plated in one lot, by mass."""
    brooches = list(
        Piece.objects.filter(void=False, design__name=LEAF.name, state="finished").order_by("-pk")[:2]
    )
    if brooches:
        bill = OutsideWork(kind="plate", words="a thin coat of rhodium", day=today, amount_micro=money(1_800))
        bill.basis = OutsideWork.Basis.MASS
        write_outside(bill, brooches)
