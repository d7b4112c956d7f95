"""What the demo studio sends to a refiner: most of a year's silver filings, settled partly as fine silver grain."""

from datetime import date, timedelta

from costing.management.demo.setting import held, money
from inventory.core.refining import Charges, Terms, compute_charge, compute_fine, compute_payable
from inventory.models import Batch, Lot, Material, Refiner, RefinerTerms
from inventory.posting.casting import Portion
from inventory.posting.refining import (
    BatchFacts,
    MetalBack,
    SettledPart,
    post_send,
    post_settle,
    write_terms,
)

SENT, SETTLED = timedelta(days=40), timedelta(days=9)
KEPT_HERE = timedelta(days=20)
PRICE = (money(3_350), "ozt")


def refine(today: date) -> None:
    """The batch lost a little in the melt, for there was dust of the mould in it, and assayed a little low."""
    refiner = Refiner.objects.create(name="Kestrel Mill Refining", contact="parcels on weekdays until four")
    terms = write_terms(
        refiner,
        today - timedelta(days=380),
        silver_pct100=9_500,
        gold_pct100=9_750,
        charge_micro=money(300),
        rate_micro=money(30),
        assay_fee_micro=money(150),
        minimum_mg=25_000,
        usual_days=21,
    )
    _settle(_send(refiner, terms, today - SENT), terms.of("silver"), today - SETTLED)


def _send(refiner: Refiner, terms: RefinerTerms, day: date) -> Batch:
    """All filings of the studio's own silver that had been swept up by twenty days before."""
    filings = held(Lot.objects.filter(origin=Lot.Origin.FILINGS, material__alloy__metal="silver", owner=None))
    portions = [Portion(lot, lot.holder.quantity) for lot in filings if lot.received_on <= day - KEPT_HERE]
    return post_send(BatchFacts(refiner, terms, "KM-2208", PRICE), portions, day, "the jar of silver filings")


def _settle(batch: Batch, terms: Terms, day: date) -> None:
    sent_mg = batch.holder.quantity
    melted_mg, assay = sent_mg * 983 // 1000, 91_850
    payable_ug = compute_payable(compute_fine(melted_mg, assay), terms.payable_pct100)
    grain = Material.objects.get(name="Fine silver grain")
    # Two thirds of it as grain, in whole grams.
    back = MetalBack(grain, payable_ug * 2 // 3 // grain.fineness // 1000 * 1000)
    charges = Charges(compute_charge(terms, sent_mg), terms.assay_fee_micro)
    paper = SettledPart(melted_mg, assay, terms.payable_pct100, charges, PRICE, [back], reference="KM-2208/1")
    post_settle(batch, paper, day)
