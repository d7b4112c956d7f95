"""The tables of where the metal went: the two sides of each account, customers' metal, and cast by cast."""

from collections.abc import Mapping, Sequence

from costing.core.metal_account import CAME_LABELS, HELD_LABELS, WENT_LABELS, MetalAccount
from costing.core.process import compute_normal_loss
from costing.models import Policy
from costing.queries.losses import CastLoss
from costing.queries.policy import policy_on
from inventory.core.ledger import Amount
from inventory.core.weighing import compute_share_pct100, compute_weighing_uncertainty
from inventory.models import Alloy, Cast, Customer, Studio
from studio.kit.documents import Column, Raw, Table
from studio.kit.printing import print_mass

from .layout import PRINTED_FINE_UG, penny_of, round_columns

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
    has_fine = bool(alloy.fineness)
    exact = [([amount.cost_micro for _, amount in lines], penny_of(studio))]
    if has_fine:
        exact.insert(0, ([amount.fine_ug for _, amount in lines], PRINTED_FINE_UG))
    rounded = round_columns(*exact)
    columns = (
        Column("what", "What"),
        Column("mass", "Grams", "mass", on_phone=True),
        *((Column("fine", f"Fine {alloy.metal}", "fine"),) if has_fine else ()),
        Column("cost", "Cost", "money", on_phone=True),
    )
    rows: list[tuple[Raw, ...]] = [
        (label, amount.quantity, *figures)
        for (label, amount), figures in zip(lines, rounded.rows, strict=True)
    ]
    totals: tuple[Raw, ...] = ("Together", sum(amount.quantity for _, amount in lines), *rounded.totals)
    return Table(caption, columns, rows, totals, rounded.note)


def table_customers(accounts: Sequence[tuple[Customer, Alloy, MetalAccount]]) -> Table:
    """Customers' own metal, a line for each owner and alloy; it carries no cost.

    What each row begins with, and what came in, is what went out and what is here at the end.
    """
    sides = [account_sides(account) for _, _, account in accounts]
    came = _labels_in_order(CAME_LABELS, [side for side, _ in sides])
    went = _labels_in_order(WENT_LABELS, [side for _, side in sides])
    columns = (
        Column("whose", "Whose metal"),
        Column("start", "Here at the start", "mass"),
        *(Column(f"came{nth}", label, "mass") for nth, label in enumerate(came)),
        *(Column(f"went{nth}", label, "mass") for nth, label in enumerate(went)),
        Column("end", "Here at the end", "mass", on_phone=True),
    )
    rows: list[tuple[Raw, ...]] = []
    for (owner, alloy, account), (side_in, side_out) in zip(accounts, sides, strict=True):
        ins, outs = dict(side_in), dict(side_out)
        rows.append(
            (
                f"{owner}, {alloy}",
                sum(amount.quantity for amount in account.opening.values()),
                *(ins.get(label, Amount()).quantity for label in came),
                *(outs.get(label, Amount()).quantity for label in went),
                sum(amount.quantity for amount in account.closing.values()),
            )
        )
    note = "What was here at the start and what came in is what went out and what is here at the end."
    return Table("Customers' metal, in grams", columns, rows, note=note)


def _labels_in_order(labels: Mapping[str, str], sides: Sequence[Lines]) -> list[str]:
    present = {label for side in sides for label, _ in side}
    return [label for label in labels.values() if label in present]


def table_casts(losses: Sequence[CastLoss], policies: Sequence[Policy], studio: Studio) -> Table:
    """Each cast with its loss as first reported and as it stands today, newest first."""
    several = len({loss.cast.alloy_id for loss in losses}) > 1
    costs = round_columns(([loss.lost_micro for loss in losses], penny_of(studio)))
    columns = (
        Column("cast", "Cast"),
        Column("day", "Day", "day"),
        Column("title", "What"),
        *((Column("alloy", "Metal"),) if several else ()),
        Column("charge", "Charge", "mass"),
        Column("pieces", "Pieces", "mass"),
        Column("back", "Back", "mass"),
        Column("filings", "Filings, spill", "mass"),
        Column("first", "Lost at the pour", "mass"),
        Column("lost", "Lost by now", "mass", on_phone=True),
        Column("share", "Of the charge", "percent", on_phone=True),
        Column("cost", "Cost of it", "money"),
        Column("remark", "Remark"),
    )
    tolerances: dict[int, int] = {}
    rows: list[tuple[Raw, ...]] = []
    for loss, amount in zip(losses, costs.rows, strict=True):
        if loss.weighings not in tolerances:
            uncertainty = compute_weighing_uncertainty(studio.scale_division_mg, loss.weighings)
            tolerances[loss.weighings] = uncertainty.tolerance_mg
        cast = loss.cast
        rows.append(
            (
                str(cast.number),
                cast.day,
                f"{cast.title} ({cast.owner}'s metal)" if cast.owner else cast.title,
                *((str(cast.alloy),) if several else ()),
                loss.charge_mg,
                loss.pieces_mg,
                loss.back_mg,
                loss.filings_mg,
                loss.first_lost_mg,
                loss.lost_mg,
                compute_share_pct100(loss.lost_mg, loss.charge_mg),
                *amount,
                remark_on(loss, policy_on(cast.day, policies), tolerances[loss.weighings]),
            )
        )
    charge_mg, lost_mg = sum(loss.charge_mg for loss in losses), sum(loss.lost_mg for loss in losses)
    totals = (
        "Together",
        None,
        None,
        *((None,) if several else ()),
        charge_mg,
        sum(loss.pieces_mg for loss in losses),
        sum(loss.back_mg for loss in losses),
        sum(loss.filings_mg for loss in losses),
        sum(loss.first_lost_mg for loss in losses),
        lost_mg,
        compute_share_pct100(lost_mg, charge_mg),
        *costs.totals,
        None,
    )
    note = (
        "Grams are those of today: what finishing took and what was found since is in them, so the loss by now may "
        f"differ from the loss at the pour. {costs.note}"
    ).strip()
    return Table("Cast by cast, newest first", columns, rows, totals, note)


def beyond_normal_mg(loss: CastLoss, policy: Policy) -> int:
    """How much more a cast lost than is normal, 0 when it did not."""
    _, beyond_mg = compute_normal_loss(loss.charge_mg, loss.lost_mg, policy.normal_loss_pct100)
    return max(beyond_mg, 0)


def remark_on(loss: CastLoss, policy: Policy, tolerance_mg: int) -> str:
    """What to know of a loss in a few words: too much, or no more than the scale can show."""
    words = ["failed"] if loss.cast.outcome == Cast.Outcome.FAILED else []
    beyond_mg = beyond_normal_mg(loss, policy)
    if abs(loss.lost_mg) <= tolerance_mg:
        words.append("within the scale")
    elif loss.lost_mg < 0:
        words.append("more out than in")
    elif beyond_mg:
        words.append(f"{print_mass(beyond_mg)} beyond normal")
    return ", ".join(words)
