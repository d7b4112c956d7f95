"""The loss of casts: each by itself, and by alloy, month, crucible and person."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.utils import timezone

from costing.core.lines import compute_allowed_loss, compute_normal_loss
from costing.core.returned import (
    Melts,
    compute_at_issue_cost,
    compute_at_resale,
    compute_process_account,
)
from costing.models import Policy
from costing.queries.losses import CastLoss
from costing.queries.policy import policy_on
from inventory.core.weighing import compute_share_pct100, compute_weighing_uncertainty
from inventory.models import Cast, Studio
from studio.kit.documents import (
    Block,
    Column,
    Filled,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
    summed,
    summed_apart,
)
from studio.kit.printing import print_percent, print_weighed
from studio.kit.units import divide_half_up

from .cost_sheet import name_rules
from .loss_account import WITHIN, say_known


@dataclass(frozen=True)
class Losses:
    """The casts closed in a time, newest first, by the cost rules of their days."""

    casts: Sequence[CastLoss]
    policies: Sequence[Policy]
    studio: Studio

    @cached_property
    def _judged(self) -> Mapping[int, tuple[int, int]]:
        found = {}
        for loss in self.casts:
            charge_mg, lost_mg = loss.grams.charge_mg, loss.grams.lost_mg
            pct100 = policy_on(loss.cast.day, self.policies).normal_loss_pct100
            normal_mg, beyond_mg = compute_normal_loss(charge_mg, lost_mg, pct100)
            saved_mg = compute_allowed_loss(charge_mg, pct100) - lost_mg
            found[loss.cast.pk] = normal_mg, beyond_mg if beyond_mg > 0 else -saved_mg
        return found

    def normal_of(self, loss: CastLoss) -> tuple[int, int]:
        """Milligrams that were lost as is normal, and beyond that; below 0 where less was lost than is normal."""
        return self._judged[loss.cast.pk]

    def beyond_mg(self, loss: CastLoss) -> int:
        """How much more a cast lost than is normal, 0 when it did not."""
        return max(self.normal_of(loss)[1], 0)

    def beyond_micro(self, loss: CastLoss) -> int:
        """What that cost, as the book has the loss."""
        lost_mg = loss.grams.lost_mg
        return divide_half_up(loss.lost_micro * self.beyond_mg(loss), lost_mg) if lost_mg > 0 else 0

    @cached_property
    def tolerances_mg(self) -> Mapping[int, int]:
        division_mg = self.studio.scale_division_mg
        counts = {loss.weighings for loss in self.casts}
        return {count: compute_weighing_uncertainty(division_mg, count).tolerance_mg for count in counts}

    def remark_on(self, loss: CastLoss) -> str:
        """What to know of a loss in a few words: too much, or no more than the scale can show."""
        words = ["failed"] if loss.cast.outcome == Cast.Outcome.FAILED else []
        beyond_mg = self.beyond_mg(loss)
        if abs(loss.grams.lost_mg) <= self.tolerances_mg[loss.weighings]:
            words.append(WITHIN)
        elif loss.grams.lost_mg < 0:
            words.append("more out than in")
        elif beyond_mg:
            words.append(f"{print_weighed(beyond_mg)} beyond normal")
        return ", ".join(words)


def table_casts(losses: Losses) -> Table:
    """Each cast with its loss as it stands today, newest first, and how well that is known."""
    casts, found = [loss.cast for loss in losses.casts], [loss.grams for loss in losses.casts]
    cost = Column("cost", "Cost of it", "money")
    costs = summed_apart(cost, [loss.lost_micro for loss in losses.casts], losses.studio.penny_micro)
    filled = [
        Filled(Column("cast", "Cast", "number"), [cast.number for cast in casts], "Together"),
        Filled(Column("day", "Day", "day"), [cast.day for cast in casts]),
        Filled(
            Column("title", "What"),
            [f"{cast.title} ({cast.owner}'s metal)" if cast.owner else cast.title for cast in casts],
        ),
        summed(Column("charge", "Charge", "mass"), [grams.charge_mg for grams in found]),
        summed(Column("lost", "Lost by now", "mass", on_phone=True), [grams.lost_mg for grams in found]),
        Filled(
            Column("known", "Known to", "count"),
            [say_known(losses.tolerances_mg[loss.weighings]) for loss in losses.casts],
            say_known(_tolerance_mg(losses.casts, losses.studio)),
        ),
        Filled(
            Column("share", "Of the charge", "percent", on_phone=True),
            [grams.lost_pct100 for grams in found],
            _share(losses.casts, "lost_mg"),
        ),
        costs,
        Filled(Column("remark", "Remark"), [losses.remark_on(loss) for loss in losses.casts]),
    ]
    return fill_table("Cast by cast, newest first", filled)


def table_grams(losses: Losses) -> Table:
    """Where the grams of each cast are: the charge is what stands in the columns to `lost by now`."""
    casts, found = [loss.cast for loss in losses.casts], [loss.grams for loss in losses.casts]
    metals = Filled(Column("alloy", "Metal"), [str(cast.alloy) for cast in casts])
    filled = [
        Filled(Column("cast", "Cast", "number"), [cast.number for cast in casts], "Together"),
        *([metals] if len({cast.alloy_id for cast in casts}) > 1 else []),
        summed(Column("charge", "Charge", "mass"), [grams.charge_mg for grams in found]),
        summed(Column("pieces", "Pieces", "mass", on_phone=True), [grams.pieces_mg for grams in found]),
        summed(Column("back", "Back", "mass"), [grams.back_mg for grams in found]),
        summed(Column("filings", "Filings", "mass"), [loss.dust_mg for loss in losses.casts]),
        summed(Column("spilt", "Spill", "mass"), [loss.spilt_mg for loss in losses.casts]),
        summed(Column("lost", "Lost by now", "mass", on_phone=True), [grams.lost_mg for grams in found]),
        summed(Column("first", "At the pour", "mass"), [loss.first_lost_mg for loss in losses.casts]),
    ]
    note = (
        "The charge is pieces, back, filings, spill and lost. Grams are those of today: what finishing took and what "
        "was found since is in them, so the loss by now may differ from the loss at the pour."
    )
    return fill_table("Where the grams of each cast are", filled, note)


def _tolerance_mg(casts: Sequence[CastLoss], studio: Studio) -> int:
    count = sum(loss.weighings for loss in casts)
    return compute_weighing_uncertainty(studio.scale_division_mg, count).tolerance_mg


def _share(casts: Sequence[CastLoss], part: str) -> int | None:
    charged_mg = sum(loss.grams.charge_mg for loss in casts)
    return compute_share_pct100(sum(getattr(loss.grams, part) for loss in casts), charged_mg)


#: What casts are taken together by: a heading, the word of the first column, and the name of a cast's group.
GROUPS: tuple[tuple[str, str, Callable[[CastLoss], str]], ...] = (
    ("By metal", "Metal", lambda loss: str(loss.cast.alloy)),
    ("By month", "Month", lambda loss: f"{loss.cast.day:%b %Y}"),
    ("By crucible", "Crucible", lambda loss: str(loss.cast.crucible or "not written down")),
    ("By who wrote the weights down", "Person", lambda loss: loss.person or "not known"),
)


def table_groups(losses: Losses) -> list[Table]:
    """The same casts taken together in four ways, each group with its yield and what of its loss is abnormal."""
    return [_table_group(losses, *group) for group in GROUPS]


def _table_group(losses: Losses, caption: str, word: str, name: Callable[[CastLoss], str]) -> Table:
    groups: dict[str, list[CastLoss]] = {}
    for loss in losses.casts:
        groups.setdefault(name(loss), []).append(loss)
    sets = list(groups.values())
    whole = losses.casts

    def add_up(column: Column, amount: Callable[[CastLoss], int]) -> Filled:
        return summed(column, [sum(amount(loss) for loss in casts) for casts in sets])

    cost = [sum(loss.lost_micro for loss in casts) for casts in sets]
    costs = summed_apart(Column("cost", "Cost of it", "money"), cost, losses.studio.penny_micro)
    filled = [
        Filled(Column("what", word), list(groups), "Together"),
        add_up(Column("casts", "Casts", "count"), lambda loss: 1),
        add_up(Column("charge", "Charge", "mass"), lambda loss: loss.grams.charge_mg),
        Filled(
            Column("yield", "Yield", "percent"),
            [_share(casts, "pieces_mg") for casts in sets],
            _share(whole, "pieces_mg"),
        ),
        add_up(Column("lost", "Lost", "mass", on_phone=True), lambda loss: loss.grams.lost_mg),
        Filled(
            Column("share", "Of the charge", "percent", on_phone=True),
            [_share(casts, "lost_mg") for casts in sets],
            _share(whole, "lost_mg"),
        ),
        add_up(Column("beyond", "Beyond normal", "mass"), losses.beyond_mg),
        add_up(Column("saved", "Less than normal", "mass"), lambda loss: max(-losses.normal_of(loss)[1], 0)),
        costs,
    ]
    return fill_table(caption, filled)


def policy_blocks(losses: Losses) -> list[Block]:
    """The three policies for sprue that comes back, and the process account, on the studio's own casts of the time."""
    own = [
        loss for loss in losses.casts if loss.cast.owner_id is None and loss.cast.outcome == Cast.Outcome.GOOD
    ]
    pieces_mg = sum(loss.grams.pieces_mg for loss in own)
    if pieces_mg <= 0 or not losses.policies:
        return []
    melts = Melts(
        sum(loss.grams.charge_mg for loss in own),
        sum(loss.charge_micro for loss in own),
        sum(loss.grams.back_mg + loss.grams.filings_mg for loss in own),
        pieces_mg,
    )
    policy = policy_on(own[0].cast.day, losses.policies)
    normal_pct100, resale = policy.normal_loss_pct100, policy.reclaim_resale_micro_per_kg
    found = [compute_at_issue_cost(melts)]
    said = "The book puts sprue back at what it cost."
    if resale is None:
        said += " Write a resale price for reclaim into your cost rules to see the two other ways beside it."
    else:
        found += [compute_at_resale(melts, resale), compute_at_resale(melts, resale, normal_pct100)]
        said += " Beside it stand the two other ways in which sprue is accounted for."
    blocks: list[Block] = [Prose(f"{said} Casts that came out, of the studio's own metal, together.")]
    blocks.append(
        fill_table(
            "What good pieces carry, by how returned sprue is accounted for",
            [
                Filled(Column("policy", "Policy"), [one.name for one in found]),
                Filled(Column("back", "Sprue credited", "money"), [one.back_micro for one in found]),
                Filled(
                    Column("pieces", "On the pieces", "money", on_phone=True), [o.pieces_micro for o in found]
                ),
                Filled(Column("abnormal", "Abnormal", "money"), [one.abnormal_micro for one in found]),
                Filled(
                    Column("gram", "A gram", "money", on_phone=True),
                    [one.per_g_micro(pieces_mg) for one in found],
                ),
            ],
        )
    )
    blocks += [WorkingBlock(one.working) for one in found]
    if normal_pct100 < 10_000:
        out_mg = melts.issued_mg - melts.lost_mg
        account = compute_process_account(melts.issued_mg, melts.issued_micro, out_mg, normal_pct100)
        blocks.append(WorkingBlock(account.working))
    return blocks


def say_beyond(losses: Losses) -> str:
    """How many casts lost more than is normal by the cost rules, in a sentence."""
    beyond = [loss.cast for loss in losses.casts if losses.beyond_mg(loss)]
    rules = name_rules(policy_on(timezone.localdate(), losses.policies))
    return f"{name_casts(beyond)} lost more than the normal loss of {rules}."


def name_casts(casts: Sequence[Cast]) -> str:
    return f"Cast {casts[0].number}" if len(casts) == 1 else str(len(casts) or "None")


def say_share(part_mg: int, whole_mg: int) -> str:
    return print_percent(compute_share_pct100(part_mg, whole_mg))
