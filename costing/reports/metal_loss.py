"""Metal over a time: what was here and what came in is what went out and what is here, and each cast's loss."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from costing.core.metal_account import Key, MetalAccount, check_account, compute_accounts
from costing.forms.reports import MetalForm
from costing.models import Policy
from costing.queries.losses import CastLoss, cast_losses
from costing.queries.metal import late_bills_on_used, metal_flows, metal_held, read_keys
from costing.queries.policy import all_policies, policy_on
from inventory.core.weighing import compute_share_pct100
from inventory.models import Studio
from inventory.queries.studio import current_studio
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture
from studio.kit.documents import Block, Document, Prose, WorkingBlock
from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.reporting import report
from studio.kit.working import Given, Step, Working, make_working

from .layout import make_document, say_period
from .metal_tables import account_sides, beyond_normal_mg, table_casts, table_customers, table_side

CHART_CASTS = 60


@report(
    "metal-loss",
    "Where the metal went",
    "What was here and what came in, what went into pieces, and what was lost at which step.",
    MetalForm,
    place=3,
)
def build_metal_loss(params: Mapping[str, Any]) -> Document:
    """The document of a time. `params` is the cleaned data of MetalForm."""
    first, last, alloy = params["from"], params["to"], params.get("alloy")
    studio, policies = current_studio(), all_policies()
    accounts = compute_accounts(metal_held(first), metal_flows(first, last))
    if alloy is not None:
        accounts = {key: account for key, account in accounts.items() if key[0] == alloy.pk}
    losses = cast_losses(first, last, alloy)
    return make_document(
        studio,
        "Where the metal went",
        [
            *_loss_blocks(losses, policies),
            *_account_blocks(accounts, studio),
            *_late_bills(late_bills_on_used(first, last)),
            table_casts(losses, policies, studio),
        ],
        subtitle=str(alloy) if alloy else "",
        period_text=say_period(first, last),
        filename=f"metal-loss {first} to {last}",
    )


def _loss_blocks(losses: Sequence[CastLoss], policies: Sequence[Policy]) -> list[Block]:
    if not losses:
        return [Prose("No cast was closed in this time.")]
    working = _work_loss(losses)
    charge_mg, lost_mg = sum(loss.charge_mg for loss in losses), sum(loss.lost_mg for loss in losses)
    cost_micro = sum(loss.lost_micro for loss in losses)
    beyond = [loss for loss in losses if beyond_normal_mg(loss, policy_on(loss.cast.day, policies))]
    casts = "1 cast was" if len(losses) == 1 else f"{len(losses)} casts were"
    said = (
        f"{casts} closed in this time. Of {print_mass(charge_mg)} charged, {print_mass(lost_mg)} is lost, "
        f"{working.result} of it, which cost {print_money(cost_micro)}. {_say_beyond(beyond)}"
    )
    return [Prose(said), _picture(losses, policies), WorkingBlock(working)]


def _say_beyond(beyond: Sequence[CastLoss]) -> str:
    if not beyond:
        return "None lost more than is normal."
    if len(beyond) == 1:
        return f"Cast {beyond[0].cast.number} lost more than is normal."
    return f"{len(beyond)} lost more than is normal."


def _work_loss(losses: Sequence[CastLoss]) -> Working:
    charge_mg, lost_mg = sum(loss.charge_mg for loss in losses), sum(loss.lost_mg for loss in losses)
    first_mg = sum(loss.first_lost_mg for loss in losses)
    share = print_percent(compute_share_pct100(lost_mg, charge_mg))
    return make_working(
        "Loss of all these casts",
        "the metal that is lost, divided by the metal that was charged",
        Given("charged", print_mass(charge_mg), f"{len(losses)} closed casts"),
        Given("lost at the pour", print_mass(first_mg), "the weights after the pour"),
        Given("lost in finishing, less what was found since", print_mass(lost_mg - first_mg), "weighed"),
        Step("lost by now", print_mass(lost_mg)),
        Step(f"{print_mass(lost_mg)} ÷ {print_mass(charge_mg)}", share),
    )


def _picture(losses: Sequence[CastLoss], policies: Sequence[Policy]) -> Picture:
    """Loss per cast, oldest first, against what is normal; the newest only, so that each can be told apart."""
    shown = losses[:CHART_CASTS][::-1]
    charge_mg, lost_mg = sum(loss.charge_mg for loss in shown), sum(loss.lost_mg for loss in shown)
    chart = loss_chart(
        [
            LossPoint(f"Cast {loss.cast.number}", compute_share_pct100(loss.lost_mg, loss.charge_mg) or 0)
            for loss in shown
        ],
        mean_pct100=compute_share_pct100(lost_mg, charge_mg),
        limit_pct100=policy_on(shown[-1].cast.day, policies).normal_loss_pct100,
        title="Loss of each cast" if len(shown) == len(losses) else f"Loss of the last {len(shown)} casts",
    )
    # The table of casts tells the same figures, so the chart need not bring its own.
    return replace(chart, rows=())


def _account_blocks(accounts: dict[Key, MetalAccount], studio: Studio) -> list[Block]:
    alloys, owners = read_keys(accounts)
    blocks: list[Block] = []
    own = sorted((alloys[key[0]].name, key) for key in accounts if key[1] is None)
    for name, key in own:
        came, went = account_sides(accounts[key])
        alloy = alloys[key[0]]
        blocks += [
            table_side(f"{name}: what there was", alloy, came, studio),
            table_side(f"{name}: where it is, and went", alloy, went, studio),
        ]
    theirs = [
        (owners[key[1]], alloys[key[0]], account) for key, account in accounts.items() if key[1] is not None
    ]
    if theirs:
        theirs.sort(key=lambda row: (row[0].name, row[1].name))
        blocks.append(table_customers(theirs))
    problems = [check_account(account) for account in accounts.values()]
    blocks += [Prose(problem) for problem in problems if problem]
    return blocks or [Prose("No metal was here in this time.")]


def _late_bills(late_micro: int) -> list[Block]:
    if not late_micro:
        return []
    return [
        Prose(
            f"Late bills put {print_money(late_micro)} on stock that was used already, metal or other. It stands "
            "apart from the sums above: the cost of no cast was changed."
        )
    ]
