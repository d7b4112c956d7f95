"""The tables of where the metal went: the two sides of each account, customers' metal, and cast by cast."""

from collections.abc import Mapping, Sequence

from costing.core.lines import compute_normal_loss
from costing.core.metal_account import CAME_LABELS, HELD_LABELS, WENT_LABELS, MetalAccount
from costing.models import Policy
from costing.queries.losses import CastLoss
from costing.queries.policy import policy_on
from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import compute_share_pct100, compute_weighing_uncertainty
from inventory.models import Alloy, Cast, Customer, Studio
from studio.kit.documents import Column, Filled, Table, fill_table, summed
from studio.kit.printing import print_mass

from .layout import PRINTED_FINE_UG, penny_of, round_column, say_rounding

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
    shares = [compute_share_pct100(loss.lost_mg, loss.charge_mg) for loss in losses]
    whole_share = compute_share_pct100(
        sum(loss.lost_mg for loss in losses), sum(loss.charge_mg for loss in losses)
    )
    metals = Filled(Column("alloy", "Metal"), [str(cast.alloy) for cast in casts])
    filled = [
        Filled(Column("cast", "Cast"), [str(cast.number) for cast in casts], "Together"),
        Filled(Column("day", "Day", "day"), [cast.day for cast in casts]),
        Filled(Column("title", "What"), [_name_cast(cast) for cast in casts]),
        *([metals] if len({cast.alloy_id for cast in casts}) > 1 else []),
        summed(Column("charge", "Charge", "mass"), [loss.charge_mg for loss in losses]),
        summed(Column("pieces", "Pieces", "mass"), [loss.pieces_mg for loss in losses]),
        summed(Column("back", "Back", "mass"), [loss.back_mg for loss in losses]),
        summed(Column("filings", "Filings, spill", "mass"), [loss.filings_mg for loss in losses]),
        summed(Column("first", "Lost at the pour", "mass"), [loss.first_lost_mg for loss in losses]),
        summed(Column("lost", "Lost by now", "mass", on_phone=True), [loss.lost_mg for loss in losses]),
        Filled(Column("share", "Of the charge", "percent", on_phone=True), shares, whole_share),
        costs,
        Filled(Column("remark", "Remark"), _remark_all(losses, policies, studio)),
    ]
    note = (
        "Grams are those of today: what finishing took and what was found since is in them, so the loss by now may "
        f"differ from the loss at the pour. {say_rounding(costs)}"
    ).strip()
    return fill_table("Cast by cast, newest first", filled, note)


def _name_cast(cast: Cast) -> str:
    return f"{cast.title} ({cast.owner}'s metal)" if cast.owner else cast.title


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
