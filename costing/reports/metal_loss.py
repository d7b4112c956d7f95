"""Metal over a time: what was here and what came in is what went out and what is here, and each cast's loss."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from costing.core.lines import compute_normal_loss
from costing.core.metal_account import (
    CAME_LABELS,
    HELD_LABELS,
    WENT_LABELS,
    Key,
    MetalAccount,
    check_account,
    compute_accounts,
)
from costing.forms.reports import MetalForm
from costing.models import Policy
from costing.queries.metal import (
    CastLoss,
    cast_losses,
    late_bills_on_used,
    metal_flows,
    metal_held,
    read_keys,
)
from costing.queries.policy import all_policies, policy_on
from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import ControlLimits, compute_share_pct100, compute_weighing_uncertainty
from inventory.models import Alloy, Cast, Customer, Studio
from inventory.queries.bench import usual_loss
from inventory.queries.studio import current_studio
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.chart_pen import Picture
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Filled,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
    summed,
)
from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.reporting import report
from studio.kit.working import Given, Step, Working, make_working

from .cost_sheet import PRINTED_FINE_UG, make_document, penny_of, round_column, say_period, say_rounding

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
    charge_mg, lost_mg = (
        sum(loss.grams.charge_mg for loss in losses),
        sum(loss.grams.lost_mg for loss in losses),
    )
    cost_micro = sum(loss.lost_micro for loss in losses)
    beyond = [loss for loss in losses if beyond_normal_mg(loss, policy_on(loss.cast.day, policies))]
    casts = "1 cast was" if len(losses) == 1 else f"{len(losses)} casts were"
    said = (
        f"{casts} closed in this time. Of {print_mass(charge_mg)} charged, {print_mass(lost_mg)} is lost, "
        f"{working.result} of it, which cost {print_money(cost_micro)}. {_name_casts(beyond)} lost more than the "
        "normal loss of your cost rules."
    )
    usual = usual_loss()
    if usual is None:
        return [Prose(said), _picture(losses, None), WorkingBlock(working)]
    odd = [loss for loss in losses if (_share_of(loss) or 0) > usual.upper_pct100]
    said += (
        f" Your casts usually lose at most {print_percent(usual.upper_pct100)}; "
        f"{_name_casts(odd).lower()} lost more than that."
    )
    return [Prose(said), _picture(losses, usual), WorkingBlock(working), WorkingBlock(usual.working)]


def _name_casts(losses: Sequence[CastLoss]) -> str:
    return f"Cast {losses[0].cast.number}" if len(losses) == 1 else str(len(losses) or "None")


def _share_of(loss: CastLoss) -> int | None:
    return compute_share_pct100(loss.grams.lost_mg, loss.grams.charge_mg)


def _work_loss(losses: Sequence[CastLoss]) -> Working:
    charge_mg, lost_mg = (
        sum(loss.grams.charge_mg for loss in losses),
        sum(loss.grams.lost_mg for loss in losses),
    )
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


def _picture(losses: Sequence[CastLoss], usual: ControlLimits | None) -> Picture:
    """Loss per cast, oldest first, against what is usual; the newest only, so that each can be told apart."""
    shown = losses[:CHART_CASTS][::-1]
    charge_mg, lost_mg = (
        sum(loss.grams.charge_mg for loss in shown),
        sum(loss.grams.lost_mg for loss in shown),
    )
    chart = loss_chart(
        [LossPoint(f"Cast {loss.cast.number}", _share_of(loss) or 0) for loss in shown],
        mean_pct100=compute_share_pct100(lost_mg, charge_mg),
        usual_pct100=usual.upper_pct100 if usual else None,
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


Lines = list[tuple[str, Amount]]


def account_sides(account: MetalAccount) -> tuple[Lines, Lines]:
    """What was here and what came in; where it went and what is here. Lines of nothing are left out."""
    came = [
        *_name(HELD_LABELS, account.opening, "Here at the start, "),
        *_name(CAME_LABELS, account.came),
    ]
    went = [
        *_name(WENT_LABELS, account.went),
        *_name(HELD_LABELS, account.closing, "Here at the end, "),
    ]
    return came, went


def _name(labels: Mapping[str, str], amounts: Mapping[str, Amount], before: str = "") -> Lines:
    found = [(before + label, amounts.get(key, Amount())) for key, label in labels.items()]
    return [(label, amount) for label, amount in found if not amount.is_nothing]


def table_side(caption: str, alloy: Alloy, lines: Lines, studio: Studio) -> Table:
    """One side of the account of the studio's own metal, in grams, fine grams and money."""
    amounts = [amount for _, amount in lines]
    cost = Column("cost", "Cost", "money", on_phone=True)
    rounded = [round_column(cost, [one.cost_micro for one in amounts], penny_of(studio))]
    if alloy.fineness:
        fine = Column("fine", f"Fine {alloy.metal}", "fine")
        rounded.insert(0, round_column(fine, [one.fine_ug for one in amounts], PRINTED_FINE_UG))
    filled = [
        Filled(Column("what", "What"), [label for label, _ in lines], "Together"),
        summed(Column("mass", "Grams", "mass", on_phone=True), [one.quantity for one in amounts]),
        *rounded,
    ]
    return fill_table(caption, filled, say_rounding(*rounded))


def table_customers(accounts: Sequence[tuple[Customer, Alloy, MetalAccount]]) -> Table:
    """Customers' own metal, a line for each owner and alloy; it carries no cost.

    What each row begins with, and what came in, is what went out and what is here at the end.
    """
    filled = [
        Filled(Column("whose", "Whose metal"), [f"{owner}, {alloy}" for owner, alloy, _ in accounts]),
        Filled(
            Column("start", "Here at the start", "mass"),
            [total_of(account.opening.values()).quantity for _, _, account in accounts],
        ),
    ]
    sides = [account_sides(account) for _, _, account in accounts]
    for side, (word, labels) in enumerate((("came", CAME_LABELS), ("went", WENT_LABELS))):
        told = [dict(both[side]) for both in sides]
        present = [label for label in labels.values() if any(label in one for one in told)]
        filled += [
            Filled(
                Column(f"{word}{nth}", label, "mass"),
                [one.get(label, Amount()).quantity for one in told],
            )
            for nth, label in enumerate(present)
        ]
    filled.append(
        Filled(
            Column("end", "Here at the end", "mass", on_phone=True),
            [total_of(account.closing.values()).quantity for _, _, account in accounts],
        )
    )
    note = "What was here at the start and what came in is what went out and what is here at the end."
    return fill_table("Customers' metal, in grams", filled, note)


def table_casts(losses: Sequence[CastLoss], policies: Sequence[Policy], studio: Studio) -> Table:
    """Each cast with its loss as first reported and as it stands today, newest first."""
    casts = [loss.cast for loss in losses]
    cost = Column("cost", "Cost of it", "money")
    costs = round_column(cost, [loss.lost_micro for loss in losses], penny_of(studio))
    shares = [_share_of(loss) for loss in losses]
    whole_share = compute_share_pct100(
        sum(loss.grams.lost_mg for loss in losses), sum(loss.grams.charge_mg for loss in losses)
    )
    metals = Filled(Column("alloy", "Metal"), [str(cast.alloy) for cast in casts])
    filled = [
        Filled(Column("cast", "Cast", "number"), [cast.number for cast in casts], "Together"),
        Filled(Column("day", "Day", "day"), [cast.day for cast in casts]),
        Filled(
            Column("title", "What"),
            [f"{cast.title} ({cast.owner}'s metal)" if cast.owner else cast.title for cast in casts],
        ),
        *([metals] if len({cast.alloy_id for cast in casts}) > 1 else []),
        summed(Column("charge", "Charge", "mass"), [loss.grams.charge_mg for loss in losses]),
        summed(Column("pieces", "Pieces", "mass"), [loss.grams.pieces_mg for loss in losses]),
        summed(Column("back", "Back", "mass"), [loss.grams.back_mg for loss in losses]),
        summed(Column("filings", "Filings and spill", "mass"), [loss.grams.filings_mg for loss in losses]),
        summed(Column("first", "Lost at the pour", "mass"), [loss.first_lost_mg for loss in losses]),
        summed(Column("lost", "Lost by now", "mass", on_phone=True), [loss.grams.lost_mg for loss in losses]),
        Filled(Column("share", "Of the charge", "percent", on_phone=True), shares, whole_share),
        costs,
        Filled(Column("remark", "Remark"), _remark_all(losses, policies, studio)),
    ]
    note = (
        "Grams are those of today: what finishing took and what was found since is in them, so the loss by now may "
        f"differ from the loss at the pour. {say_rounding(costs)}"
    ).strip()
    return fill_table("Cast by cast, newest first", filled, note)


def _remark_all(losses: Sequence[CastLoss], policies: Sequence[Policy], studio: Studio) -> list[str]:
    tolerances_mg = {
        count: compute_weighing_uncertainty(studio.scale_division_mg, count).tolerance_mg
        for count in {loss.weighings for loss in losses}
    }
    return [
        remark_on(loss, policy_on(loss.cast.day, policies), tolerances_mg[loss.weighings]) for loss in losses
    ]


def beyond_normal_mg(loss: CastLoss, policy: Policy) -> int:
    """How much more a cast lost than is normal, 0 when it did not."""
    _, beyond_mg = compute_normal_loss(loss.grams.charge_mg, loss.grams.lost_mg, policy.normal_loss_pct100)
    return max(beyond_mg, 0)


def remark_on(loss: CastLoss, policy: Policy, tolerance_mg: int) -> str:
    """What to know of a loss in a few words: too much, or no more than the scale can show."""
    words = ["failed"] if loss.cast.outcome == Cast.Outcome.FAILED else []
    beyond_mg = beyond_normal_mg(loss, policy)
    if abs(loss.grams.lost_mg) <= tolerance_mg:
        words.append("within the scale")
    elif loss.grams.lost_mg < 0:
        words.append("more out than in")
    elif beyond_mg:
        words.append(f"{print_mass(beyond_mg)} beyond normal")
    return ", ".join(words)
