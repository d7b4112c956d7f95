"""The demo's old jar: silver of unknown fineness, cast as it was, and assayed when two rings were made of it."""

from datetime import date, timedelta

from costing.management.demo.setting import Setting, money
from inventory.models import Lot
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.casting import CastFacts, CastRecord, Portion, PourNotes, TimeRecord, post_cast
from inventory.posting.closing import PieceGroup, Weights
from inventory.posting.stock import OpeningLot, post_opening

FOUND, CAST, ASSAYED = timedelta(days=8), timedelta(days=5), timedelta(days=1)
GUESS_PPM = (800_000, 925_000)
ASSAY_PPM = 880_000


def melt_the_jar(things: Setting, today: date) -> None:
    """Guessed at 800 to 925; two rings cast in cuttlebone, by the torch; the assay says 880, and all follows."""
    old = OpeningLot(
        things.grain, 62_400, money(3_900), melts_milli=None, kept_in="top shelf", guess=GUESS_PPM
    )
    jar = post_opening(old, today - FOUND, "a jar of snippets from behind the polishing motor")
    _cast_rings(things, jar, today - CAST)
    jar = Lot.objects.get(pk=jar.pk)
    assay = Assay(jar, ASSAY_PPM, ASSAY_PPM, by_whom="Saltings Assay", paper="SA-4471", goes_on=True)
    post_assay(assay, today - ASSAYED, "a cut of the jar, by cupellation")


def _cast_rings(things: Setting, jar: Lot, day: date) -> None:
    """No wax, no powder and no firing, so nothing of the year before is used otherwise."""
    rings = PieceGroup("Cuttlebone ring", 28_260, 2)
    post_cast(
        CastRecord(
            facts=CastFacts("2 rings in cuttlebone, of the old jar", day, things.sterling),
            charge=[Portion(jar, 46_200)],
            weights=Weights([rings], back_mg=17_490, as_it_is=True),
            pour=PourNotes(note="melted in a dish of its own"),
            bench=[TimeRecord(70, "carving, melting, pour")],
        ),
        things.person,
    )
