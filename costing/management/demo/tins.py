"""The demo's tins: at the end of its year the buttons and the filings of the year are put together."""

from datetime import date

from inventory.models import Alloy, Lot, Studio, Tin
from inventory.posting.planning import save_plan
from inventory.posting.reclaim import post_together
from inventory.posting.setup import reclaim_material
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import draft_of, open_plans
from inventory.queries.shelf import promised
from inventory.queries.tins import fitting_lots


def fill_tins(sterling: Alloy, bronze: Alloy, today: date) -> None:
    """Clean reclaim of both metals, and the silver filings; what a plan holds lies where it lay."""
    held = promised()
    for name, alloy, kind in (
        ("Silver buttons", sterling, Lot.Origin.CLEAN),
        ("Bronze buttons", bronze, Lot.Origin.CLEAN),
        ("Jar of silver filings", sterling, Lot.Origin.FILINGS),
    ):
        tin = Tin.objects.create(name=name, material=reclaim_material(alloy), kind=kind)
        lots = [lot for lot in fitting_lots(tin).order_by("pk") if lot.pk not in held]
        if lots:
            post_together(tin, lots, today)
    _plan_anew()


def _plan_anew() -> None:
    """A plan that holds nothing had counted on what lies in a tin now."""
    for plan in open_plans():
        if not plan.holds:
            save_plan(work_out(draft_of(plan), Studio.objects.get(), plan), plan=plan)
