"""The account of a metal on a page: what there was, where it is and went, and what was lost at each stage.

Money is printed so that it adds up by hand: what stands at either end is what the report of the stock says of that
day, and what came and went makes up the difference, each figure within a penny of the exact one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from costing.core.metal_account import (
    CAME_LABELS,
    CASTING,
    FINISHING,
    HELD_LABELS,
    REFINERS_ASSAY,
    WENT_LABELS,
    MetalAccount,
)
from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Alloy, Studio
from studio.kit.chart_pen import Picture
from studio.kit.charts import flow_bar
from studio.kit.documents import Column, Filled, Table, fill_table, summed
from studio.kit.measures import MASS
from studio.kit.numerals import SPACE, print_decimal
from studio.kit.rounding import round_column, round_to_total, round_to_unit

from .cost_sheet import PRINTED_FINE_UG

WITHIN = "within weighing"
UG_PER_MG = 1_000


@dataclass(frozen=True)
class OwnAccount:
    """One of the studio's own metals: its account, and how often the scale was read for each stage of its loss."""

    alloy: Alloy
    account: MetalAccount
    weighings: Mapping[str, int]
    #: The casts whose metal was still in the crucible at the end.
    open_casts: Sequence[int] = ()

    @property
    def crucible_words(self) -> str:
        """ "in the crucible of cast 41"."""
        if not self.open_casts:
            return HELD_LABELS["crucible"]
        word = "crucible of cast" if len(self.open_casts) == 1 else "crucibles of casts"
        return f"in the {word} {', '.join(map(str, self.open_casts))}"


def read_weighings(account: MetalAccount, casting: int, finishing: int) -> dict[str, int]:
    """How often the scale was read for each stage of an account; of other stages once for each line of the book."""
    known = {CASTING: casting, FINISHING: finishing}
    return {loss: known.get(loss) or account.weighings_of(loss) for loss in account.losses}


def table_account(own: Sequence[OwnAccount], studio: Studio) -> list[Table]:
    """In, out and lost, a line for each metal and all together below: one table of grams, one of money.

    Along each line, what was here at the start and came in is what went out, was lost and is here at the end.
    """
    names = [one.alloy.name for one in own]
    rows = [_columns_of(one.account) for one in own]
    whole = tuple(total_of(amounts) for amounts in zip(*rows, strict=True))
    # What only came back, or turned into another metal, has a column where there is any.
    shown = [
        place
        for place in range(len(COLUMNS))
        if place not in _SELDOM or any(not row[place].is_nothing for row in rows)
    ]
    tables: list[Table] = []
    for caption, kind, unit, read in (
        # The fine measure prints the milligram, which the scale's own does not.
        ("The account in grams", "fine", 1, lambda amount: amount.quantity * UG_PER_MG),
        ("The account in money", "money", studio.penny_micro, lambda amount: amount.cost_micro),
    ):
        printed = [_balance([read(amount) for amount in row], unit) for row in (*rows, whole)]
        filled = [Filled(Column("metal", "Metal"), names, "Together" if len(own) > 1 else None)]
        for place in shown:
            cells = [row[place] for row in printed]
            column = Column(f"c{place}", COLUMNS[place], kind, on_phone=place in _ON_PHONE)
            filled.append(Filled(column, cells[:-1], cells[-1]))
        tables.append(fill_table(caption, filled, "" if tables else _say_balance(_TURNED in shown)))
    return tables


COLUMNS = (
    "At the start",
    "Came in",
    "Came back",
    "From or to another alloy",
    "Went out",
    "Lost",
    "At the end",
)
_SELDOM = (2, 3)
_TURNED = 3
_ON_PHONE = (5, 6)


def _say_balance(has_turned: bool) -> str:
    said = (
        "Along each line, what was here at the start and came in is what went out, was lost and is here at the end; "
        "both ends are those of “What the stock cost” on these days."
    )
    if has_turned:
        said += (
            " What became another alloy within the studio came from none and went to none outside: it stands below "
            "nothing at the one and above it at the other."
        )
    return said


def _columns_of(account: MetalAccount) -> tuple[Amount, ...]:
    return (
        account.start,
        account.gained,
        account.came_back,
        account.turned,
        account.parted,
        account.lost,
        account.end,
    )


def _balance(exact: Sequence[int], unit: int) -> list[int]:
    """The columns printed so that those to the left of what went make it, what was lost and the end."""
    start, *moved, went, lost, end = exact
    first, last = round_to_unit(start, unit), round_to_unit(end, unit)
    *moved, went, lost = round_to_total([*moved, -went, -lost], unit, last - first)
    return [first, *moved, -went, -lost, last]


def table_losses(own: Sequence[OwnAccount], studio: Studio) -> Table:
    """What was lost at each stage, of all the studio's own metals together, with how well that is known."""
    stages = list(dict.fromkeys(loss for one in own for loss in one.account.losses))
    amounts = [total_of(one.account.losses.get(loss, Amount()) for one in own) for loss in stages]
    counts = [sum(one.weighings.get(loss, 0) for one in own) for loss in stages]
    whole = total_of(amounts)
    tolerances = [_tolerance_mg(studio, count) for count in (*counts, sum(counts))]
    filled = [
        Filled(Column("stage", "Stage"), stages, "Lost in all"),
        Filled(
            Column("mass", "Grams", "mass", on_phone=True), [one.quantity for one in amounts], whole.quantity
        ),
        Filled(
            Column("known", "Known to", "count"),
            [*map(say_known, tolerances[:-1])],
            say_known(tolerances[-1]),
        ),
        *_fine_of_metals(own, stages),
        _fill_rounded(
            Column("cost", "Cost", "money", on_phone=True),
            [a.cost_micro for a in amounts],
            studio.penny_micro,
        ),
        Filled(
            Column("remark", "Remark"),
            [
                _remark(amount, tolerance) or _say_assayed(own, stage)
                for stage, amount, tolerance in zip(stages, amounts, tolerances, strict=False)
            ],
            _remark(whole, tolerances[-1]),
        ),
    ]
    note = (
        "How well a figure is known comes from the step of the scale and the number of weighings (k = 2). "
        "Finishing counts in the time in which it was done, whenever the piece was cast."
    )
    return fill_table("What was lost, stage by stage", filled, note)


def _fine_of_metals(own: Sequence[OwnAccount], stages: Sequence[str]) -> list[Filled]:
    """A column for each precious metal: fine silver and fine gold are not added up."""
    filled = []
    for metal in dict.fromkeys(one.alloy.metal for one in own if one.alloy.fineness):
        of_metal = [one.account.losses for one in own if one.alloy.metal == metal and one.alloy.fineness]
        exact = [sum(losses[loss].fine_ug for losses in of_metal if loss in losses) for loss in stages]
        filled.append(_fill_rounded(Column(f"fine_{metal}", f"Fine {metal}", "fine"), exact, PRINTED_FINE_UG))
    return filled


def _fill_rounded(column: Column, exact: Sequence[int], unit: int) -> Filled:
    return summed(column, round_column(exact, unit))


def say_known(tolerance_mg: int) -> str:
    """How well a sum of weighings is known, in words: such figures do not add up, their squares do."""
    return f"±{SPACE}{print_decimal(tolerance_mg, 3, most=3, least=3)}{SPACE}g"


def _tolerance_mg(studio: Studio, count: int) -> int:
    return compute_weighing_uncertainty(studio.scale_division_mg, count).tolerance_mg


def _remark(amount: Amount, tolerance_mg: int) -> str:
    if abs(amount.quantity) <= tolerance_mg:
        return WITHIN if amount.quantity else ""
    return "came back" if amount.quantity < 0 else ""


def _say_assayed(own: Sequence[OwnAccount], stage: str) -> str:
    """A refiner's assay moves fine metal and no gram, so more fine metal may be lost there than grams."""
    assays = (one.account.went.get(REFINERS_ASSAY.key, Amount()) for one in own)
    is_in_it = stage == REFINERS_ASSAY.loss and any(amount.fine_ug for amount in assays)
    return "fine metal: also what their assay put right" if is_in_it else ""


#: Where metal of an alloy went or is, as the bar shows it: colour, words, and lines of the account.
_FLOW: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("pieces", "gone in pieces", ("sold_new", "sold_old")),
    ("time", "in pieces here", ("piece_new", "piece_old")),
    ("left", "fresh metal", ("lot_fresh",)),
    ("back", "buttons and sprues", ("lot_clean", "lot")),
    ("mould", "", ("crucible",)),
    ("kiln", "at the refiner's", ("batch",)),
    ("filings", "spill, filings and sweeps", ("lot_spill", "lot_filings")),
)


def picture_flow(one: OwnAccount) -> Picture:
    """Where the metal of an alloy that was here or came in is now."""
    account = one.account
    found = {**{key: a.quantity for key, a in account.closing.items()}}
    found |= {key: amount.quantity for key, amount in account.went.items() if key.startswith("sold")}
    parts = [
        (role, words or one.crucible_words, sum(found.get(key, 0) for key in keys))
        for role, words, keys in _FLOW
    ]
    lost_mg = account.lost.quantity
    parts.append(("lost", "lost", lost_mg))
    whole_mg = account.arrived_mg
    rest_mg = whole_mg - sum(mass_mg for _, _, mass_mg in parts)
    words = "gone otherwise, or to another alloy" if "to_other" in account.went else "gone otherwise"
    parts.append(("other", words, rest_mg))
    return flow_bar(parts, title=f"{one.alloy}: where {MASS.print_in_column(whole_mg)} went")


def table_sides(one: OwnAccount, studio: Studio) -> list[Table]:
    """Both sides of the account of one metal, in grams, fine grams and money."""
    account, alloy = one.account, one.alloy
    opening = _name_lines(HELD_LABELS, account.opening, "Here at the start, ")
    came = _name_lines(CAME_LABELS, account.came)
    went = _name_lines(WENT_LABELS, account.went)
    at_end = {**HELD_LABELS, "crucible": one.crucible_words}
    closing = _name_lines(at_end, account.closing, "Here at the end, ")
    parts = [[amount for _, amount in lines] for lines in (opening, came, went, closing)]
    money = _balance_sides([[amount.cost_micro for amount in part] for part in parts], studio.penny_micro)
    fine = _balance_sides([[amount.fine_ug for amount in part] for part in parts], PRINTED_FINE_UG)
    return [
        _table_side(f"{alloy}: {caption}", alloy, lines, fine[side], money[side])
        for side, (caption, lines) in enumerate(
            (("what there was", [*opening, *came]), ("where it is, and went", [*went, *closing]))
        )
    ]


Lines = list[tuple[str, Amount]]


def _name_lines(labels: Mapping[str, str], amounts: Mapping[str, Amount], before: str = "") -> Lines:
    """Lines of nothing are left out."""
    found = [(before + label, amounts.get(key, Amount())) for key, label in labels.items()]
    return [(label, amount) for label, amount in found if not amount.is_nothing]


def _balance_sides(parts: Sequence[Sequence[int]], unit: int) -> tuple[list[int], list[int]]:
    """Opening and came, went and closing, printed so that both sides come to the same."""
    opening, came, went, closing = parts
    first, last = (round_to_unit(sum(part), unit) for part in (opening, closing))
    moved = round_to_total([*came, *(-one for one in went)], unit, last - first)
    came, went = moved[: len(came)], [-one for one in moved[len(came) :]]
    return (
        [*round_to_total(opening, unit, first), *came],
        [*went, *round_to_total(closing, unit, last)],
    )


def _table_side(caption: str, alloy: Alloy, lines: Lines, fine: Sequence[int], money: Sequence[int]) -> Table:
    filled = [
        Filled(Column("what", "What"), [label for label, _ in lines], "Together"),
        summed(Column("mass", "Grams", "mass", on_phone=True), [one.quantity for _, one in lines]),
        *([summed(Column("fine", f"Fine {alloy.metal}", "fine"), fine)] if alloy.fineness else []),
        summed(Column("cost", "Cost", "money", on_phone=True), money),
    ]
    return fill_table(caption, filled)
