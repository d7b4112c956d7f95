"""Metal over a time: what was here and came in is what went out, was lost and is here; and the loss of each cast."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from costing.core.metal_account import Key, MetalAccount, check_account, compute_accounts
from costing.forms.reports import MetalForm
from costing.queries.held import open_casts_on
from costing.queries.losses import CastLoss, cast_losses, finishing_readings
from costing.queries.metal import late_bills_on_used, metal_flows, metal_held, read_keys
from costing.queries.policy import all_policies
from inventory.core.control_chart import Signal
from inventory.core.ledger import total_of
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Studio
from inventory.queries.control import (
    FamilyChart,
    chart_families,
    family_limits,
    read_circumstances,
)
from inventory.queries.counting import last_count
from inventory.queries.fineness import put_right_since_cast
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import Block, Document, Heading, Prose, WorkingBlock
from studio.kit.printing import print_mass, print_money, print_percent, print_weighed
from studio.kit.reporting import report
from studio.kit.working import Given, Step, Working, make_working

from .cost_sheet import say_day, say_period
from .loss_account import (
    OwnAccount,
    picture_flow,
    read_weighings,
    say_known,
    table_account,
    table_losses,
    table_sides,
)
from .loss_casts import (
    Losses,
    name_casts,
    policy_blocks,
    say_beyond,
    say_share,
    table_casts,
    table_grams,
    table_groups,
)
from .loss_customers import table_customers

CHART_CASTS = 60
MOST_ODD = 12
MOST_FLOWS = 6


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
    studio = current_studio()
    accounts = compute_accounts(metal_held(first), metal_flows(first, last))
    if alloy is not None:
        accounts = {key: account for key, account in accounts.items() if key[0] == alloy.pk}
    losses = Losses(cast_losses(first, last, alloy), all_policies(), studio)
    alloys, owners = read_keys(accounts)
    readings, open_casts = finishing_readings(first, last), open_casts_on(last)
    own = [
        OwnAccount(
            alloys[key[0]],
            account,
            read_weighings(account, _casting_readings(losses, key), readings.get(key[0], 0)),
            open_casts.get(key[0], ()),
        )
        for key, account in accounts.items()
        if key[1] is None
    ]
    own.sort(key=lambda one: (-one.account.arrived_mg, one.alloy.name))
    theirs = sorted(
        (
            (owners[key[1]], alloys[key[0]], account)
            for key, account in accounts.items()
            if key[1] is not None
        ),
        key=lambda row: (row[0].name, row[1].name),
    )
    return make_document(
        studio,
        "Where the metal went",
        [
            *_first_page(own, losses, studio),
            Prose(_say_counted(last)),
            *_late_bills(late_bills_on_used(first, last)),
            *_problems(accounts),
            *_loss_blocks(losses, total_of(one.account.lost for one in own).quantity),
            *(
                block
                for one in sorted(own, key=lambda one: one.alloy.name)
                for block in table_sides(one, studio)
            ),
            *([table_customers(theirs)] if theirs else []),
        ],
        subtitle=str(alloy) if alloy else "",
        period_text=say_period(first, last),
        filename=f"metal {first} to {last}",
    )


def _casting_readings(losses: Losses, key: Key) -> int:
    """How often the scale was read for the casts of one account."""
    return sum(loss.weighings for loss in losses.casts if (loss.cast.alloy_id, loss.cast.owner_id) == key)


def _first_page(own: Sequence[OwnAccount], losses: Losses, studio: Studio) -> list[Block]:
    """All of it said once: what was lost and what that cost, where, and what became of the rest."""
    if not own:
        return [Prose("No metal of the studio's own was here in this time.")]
    lost = total_of(one.account.lost for one in own)
    parted = total_of(one.account.parted for one in own)
    count = sum(sum(one.weighings.values()) for one in own)
    known = compute_weighing_uncertainty(studio.scale_division_mg, count)
    here = total_of(one.account.start for one in own) + total_of(one.account.gained for one in own)
    is_shown = abs(lost.quantity) > known.tolerance_mg
    said = (
        f"{print_weighed(lost.quantity)} of the studio's metal was lost, which cost {print_money(lost.cost_micro)}: "
        f"{say_share(lost.quantity, here.quantity)} of what was here or came in. It is known to "
        f"{say_known(known.tolerance_mg)}"
        + ("." if is_shown else ", so no loss is shown: it is within weighing.")
    )
    if parted.quantity:
        said += f" {print_weighed(parted.quantity)} went out otherwise, most of it in pieces."
    return [
        Prose(said),
        *(picture_flow(one) for one in _moved(own)[:MOST_FLOWS]),
        table_losses(own, studio),
        *table_account(own, studio),
        WorkingBlock(known.working),
    ]


def _moved(own: Sequence[OwnAccount]) -> list[OwnAccount]:
    """Metals of which something left: where nothing did, a bar has nothing to tell."""
    return [one for one in own if one.account.total_out != one.account.end or one.account.lost.quantity]


def _say_counted(until: Any) -> str:
    """The latest stock count is where a search for missing metal begins."""
    counted = last_count(until)
    if counted is None:
        return "The stock was not counted yet: a count says from which day on something may be missing."
    count, lots, differing = counted
    by = f" by {count.recorded_by}" if count.recorded_by else ""
    was = "was" if differing == 1 else "were"
    found = "All agreed with the book" if not differing else f"{differing} differed and {was} put right"
    said = f"Counted on {say_day(count.day)}{by}: {lots} lot{'' if lots == 1 else 's'}. {found}"
    return f"{said}, so nothing in them is unexplained before that day."


def _problems(accounts: Mapping[Key, MetalAccount]) -> list[Block]:
    return [Prose(problem) for account in accounts.values() if (problem := check_account(account))]


def _late_bills(late_micro: int) -> list[Block]:
    if not late_micro:
        return []
    return [
        Prose(
            f"Late bills put {print_money(late_micro)} on stock that was used already, metal or other. It stands "
            "apart from the sums above: the cost of no cast was changed."
        )
    ]


def _loss_blocks(losses: Losses, own_lost_mg: int) -> list[Block]:
    casts = losses.casts
    if not casts:
        return [Prose("No cast was closed in this time.")]
    working = _work_loss(casts)
    charge_mg, lost_mg = sum(one.grams.charge_mg for one in casts), sum(one.grams.lost_mg for one in casts)
    beyond_mg, beyond_micro = sum(map(losses.beyond_mg, casts)), sum(map(losses.beyond_micro, casts))
    were = "1 cast was" if len(casts) == 1 else f"{len(casts)} casts were"
    said = (
        f"{were} closed in this time. Of {print_weighed(charge_mg)} charged, {print_weighed(lost_mg)} is lost, "
        f"{working.result} of it, which cost {print_money(sum(one.lost_micro for one in casts))}; "
        f"{print_weighed(sum(one.grams.pieces_mg for one in casts))} is in pieces, a yield of "
        f"{say_share(sum(one.grams.pieces_mg for one in casts), charge_mg)}. {say_beyond(losses)}"
    )
    if beyond_mg:
        said += (
            f" That is {print_weighed(beyond_mg)} abnormal, which cost {print_money(beyond_micro)} as the book has it; "
            "the rest is normal."
        )
    return [
        Heading("The casts"),
        Prose(said),
        *_say_between(own_lost_mg, lost_mg),
        *_say_put_right(put_right_since_cast([one.cast for one in casts])),
        WorkingBlock(working),
        *_chart_blocks(casts),
        *table_groups(losses),
        table_casts(losses),
        table_grams(losses),
        *policy_blocks(losses),
    ]


def _say_between(own_lost_mg: int, lost_mg: int) -> list[Block]:
    """Why what the casts lost is not what was lost in all."""
    if own_lost_mg == lost_mg:
        return []
    return [
        Prose(
            f"The {print_weighed(own_lost_mg)} at the top are not the {print_weighed(lost_mg)} here. "
            "Those are of the studio's own metal: with what was lost at the refiner's, missing at counts and thrown "
            "away, with what was cleaned off metal of no one cast, and with finishing and finds of this time, "
            "whenever the cast was. These are of the casts alone, customers' metal too, with all that finishing took "
            "and finds gave back of them to this day."
        )
    ]


def _say_put_right(numbers: Sequence[int]) -> list[Block]:
    if not numbers:
        return []
    word = "cast" if len(numbers) == 1 else "casts"
    return [
        Prose(
            f"The metal of {word} {', '.join(map(str, numbers))} was assayed later. What is here of it follows the "
            "assay; what was lost or had left is told at the fineness that it was reckoned at when it went."
        )
    ]


def _work_loss(losses: Sequence[CastLoss]) -> Working:
    charge_mg, lost_mg = (
        sum(loss.grams.charge_mg for loss in losses),
        sum(loss.grams.lost_mg for loss in losses),
    )
    first_mg = sum(loss.first_lost_mg for loss in losses)
    return make_working(
        "Loss of all these casts",
        "the metal that is lost, divided by the metal that was charged",
        Given("charged", print_mass(charge_mg), f"{len(losses)} closed casts"),
        Given("lost at the pour", print_mass(first_mg), "the weights after the pour"),
        Given("lost in finishing, less what was found since", print_mass(lost_mg - first_mg), "weighed"),
        Step("lost by now", print_mass(lost_mg)),
        Step(f"{print_mass(lost_mg)} ÷ {print_mass(charge_mg)}", say_share(lost_mg, charge_mg)),
    )


def _chart_blocks(casts: Sequence[CastLoss]) -> list[Block]:
    """For each family of metals its losses against what is usual, what the run rules say, and what is on record."""
    shown = [loss.cast for loss in reversed(casts) if loss.grams.charge_mg]
    charts = chart_families(shown, family_limits())
    odd = {chart.metal: chart.signals[-MOST_ODD:][::-1] for chart in charts}
    records = read_circumstances([cast for found in odd.values() for cast, _ in found], shown)
    blocks: list[Block] = []
    for chart in charts:
        title = f"Loss of each cast of {chart.words}"
        if len(chart.casts) > CHART_CASTS:
            title = f"Loss of the last {CHART_CASTS} casts of {chart.words}"
        # The table of casts tells the same figures, so the chart need not bring its own.
        picture = replace(chart.picture(title, CHART_CASTS), rows=())
        blocks += [picture, Prose(_say_chart(chart, odd[chart.metal], records))]
        if chart.family.limits:
            blocks.append(WorkingBlock(chart.family.limits.working))
    return blocks


def _say_chart(
    chart: FamilyChart, odd: Sequence[tuple[Any, Signal]], records: Mapping[int, Sequence[str]]
) -> str:
    """What is usual, how many lost more, and of the newest odd casts what is odd and what is on record."""
    family = chart.family
    if family.limits is None:
        return family.sentence
    over = [cast for cast, share in chart.measured if share > family.limits.upper_pct100]
    lines = [
        f"Your casts usually lose at most {print_percent(family.limits.upper_pct100)}; "
        f"{name_casts(over).lower()} lost more than that. {family.sentence}"
    ]
    for cast, signal in odd:
        record = "; ".join(records.get(cast.pk, ()))
        lines.append(f"Cast {cast.number} {signal.words}." + (f" In its record: {record}." if record else ""))
    left_out = len(chart.signals) - len(odd)
    if left_out:
        lines.append(f"{left_out} odd casts before these are not named here.")
    return "\n".join(lines)
