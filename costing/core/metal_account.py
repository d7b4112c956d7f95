"""The account of a metal over a time: what was here and what came in is what went out and what is here.

Amounts are milligrams, micrograms fine and millionths of the currency. A holder is a lot, a crucible or a
piece; everything else is outside. Nothing is rounded here, so the two sides agree to the last unit.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from inventory.core.ledger import Amount, total_of

Key = tuple[int, int | None]
"""Whose metal and which: (alloy, owner); owner None is the studio."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A way in or out of the studio's metal: the place at its other end, and how the line is called.

    `kinds` are the kinds of entry that it is for, and `held` what the metal was or became here (the keys of
    HELD_LABELS); of nothing it is for all. `loss` is what it is called among the losses, "" where nothing is lost.
    """

    key: str
    label: str
    place: str = ""
    kinds: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    loss: str = ""

    def fits(self, place: str, entry_kind: str, held: str) -> bool:
        return (
            place == self.place
            and (not self.kinds or entry_kind in self.kinds)
            and (not self.held or held in self.held)
        )


CASTING, FINISHING, COUNTS, FOUND = (
    "Casting",
    "Finishing",
    "Missing at counts, less what was found",
    "Found later",
)
REFINERS_ASSAY = Stage("refined_assay", "Assay difference at the refiner", "ref_assay", loss="At the refiner")
CAME: tuple[Stage, ...] = (
    Stage("late_bill", "Late bills on what was here", "supplier", ("late_bill",)),
    Stage("bought", "Bought", "supplier"),
    Stage("opening", "Opening stock entered", "opening"),
    Stage("returned", "Came back in pieces", "customer", ("return",)),
    Stage("handed_in", "Handed in", "customer"),
    Stage("counted", "Found at a count", "counted", loss=COUNTS),
    Stage("found", "Found later, of what was lost", "lost", ("found",), loss=FOUND),
    Stage("from_other", "Came from another alloy"),
    Stage("from_owner", "Came from the studio's metal"),
    Stage("refined", "Put to it and charged by refiners", "refiner"),
    Stage("came_else", "Came in otherwise"),
)
WENT: tuple[Stage, ...] = (
    Stage("sold_new", "Gone in pieces cast in this time", "customer", held=("piece_new",)),
    Stage("sold_old", "Gone in pieces cast before", "customer", held=("piece_old",)),
    # What metal cost that was passed on leaves for the customer; its grams go to an account of theirs.
    Stage("to_owner", "Passed to a customer", "customer", ("top_up",)),
    Stage("handed_back", "Handed back", "customer"),
    Stage("to_other", "Became another alloy"),
    Stage("alloyed", "Fine metal of another kind, no longer counted", "alloyed"),
    Stage("lost_pour", "Lost at the pour", "lost", ("close", "cleaned"), loss=CASTING),
    Stage("lost_finish", "Lost in finishing", "lost", ("finish",), loss=FINISHING),
    Stage("scrap_spill", "Spill thrown away", "scrapped", held=("lot_spill",), loss="Spill thrown away"),
    Stage(
        "scrap_filings",
        "Filings and sweeps thrown away",
        "scrapped",
        held=("lot_filings",),
        loss="Filings and sweeps thrown away",
    ),
    Stage("scrapped", "Thrown away", "scrapped", loss="Thrown away"),
    Stage("refined_out", "Paid out or kept by refiners", "refiner"),
    Stage("refined_lost", "Lost at the refiner", "ref_lost", loss="At the refiner"),
    REFINERS_ASSAY,
    Stage("assayed", "Fine metal put right by assay", "assay"),
    Stage("missing", "Missing at a count", "counted", loss=COUNTS),
    Stage("went_else", "Went out otherwise"),
)
"""Every way in and out, in the order in which they are shown; of two that fit the first is taken."""

CAME_LABELS: Mapping[str, str] = MappingProxyType({stage.key: stage.label for stage in CAME})
WENT_LABELS: Mapping[str, str] = MappingProxyType({stage.key: stage.label for stage in WENT})
#: What a scale's error or an assay gave back is taken off what went by the same line.
_GIVES_BACK = tuple(stage for stage in WENT if stage.place in ("lost", "ref_lost", "ref_assay", "assay"))
#: What crosses from one of the studio's metals to another, or only comes back, is no coming or going of the whole.
_WITHIN = ("from_other", "to_other")
_BACK = "returned"
_FOUND_AGAIN = {stage.key for stage in CAME if stage.loss}
_NOT_GAINED = {_BACK, *_WITHIN, *_FOUND_AGAIN}
_NOT_PARTED = {*_WITHIN, *(stage.key for stage in WENT if stage.loss)}
LOSSES: tuple[str, ...] = tuple(dict.fromkeys(stage.loss for stage in (*WENT, *CAME) if stage.loss))
"""The stages of the loss, as they are called and in their order."""

HELD_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "lot_fresh": "in lots: fresh metal",
        "lot_clean": "in lots: buttons, sprues and old metal",
        "lot_failed": "in lots: failed castings",
        "lot_spill": "in lots: spill",
        "lot_filings": "in lots: filings and sweeps",
        "lot": "in lots and tins",
        "crucible": "in the crucible of an open cast",
        "batch": "at the refiner's",
        "piece_new": "in pieces cast in this time",
        "piece_old": "in pieces cast before",
    }
)


@dataclass(frozen=True, slots=True)
class End:
    """Where metal comes from or goes to: a holder of an account, or a named place outside (key None).

    `is_new` marks a piece that was cast within the time of the report; `sort` is the sort of metal in a lot.
    """

    kind: str
    place: str = ""
    key: Key | None = None
    is_new: bool = False
    sort: str = ""

    @property
    def held(self) -> str:
        if self.kind == "lot" and self.sort:
            return f"lot_{self.sort}"
        if self.kind != "piece":
            return self.kind
        return "piece_new" if self.is_new else "piece_old"


@dataclass(frozen=True, slots=True)
class Flow:
    """All movements alike between two ends: in the time of the report (so many `lines`), and after it until today."""

    source: End
    target: End
    entry_kind: str
    during: Amount
    after: Amount
    lines: int = 0


@dataclass
class MetalAccount:
    """One account; the keys are those of HELD_LABELS, CAME_LABELS and WENT_LABELS.

    What was lost at the pour and in finishing is net of what a scale's error gave back.
    """

    opening: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    came: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    went: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    closing: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    lines: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    @property
    def start(self) -> Amount:
        return total_of(self.opening.values())

    @property
    def end(self) -> Amount:
        return total_of(self.closing.values())

    @property
    def gained(self) -> Amount:
        """What came in from outside, but for what only came back, be it lost, missing or gone in a piece."""
        return total_of(amount for key, amount in self.came.items() if key not in _NOT_GAINED)

    @property
    def arrived_mg(self) -> int:
        """All that there was to go anywhere: what was here, and what came from wherever but was not found again."""
        came = (amount.quantity for key, amount in self.came.items() if key not in _FOUND_AGAIN)
        return self.start.quantity + sum(came)

    @property
    def came_back(self) -> Amount:
        """What came back in pieces that had gone."""
        return self.came.get(_BACK, Amount())

    @property
    def turned(self) -> Amount:
        """What came from the studio's other metals less what became one; nothing over all of them."""
        return self.came.get("from_other", Amount()) - self.went.get("to_other", Amount())

    @property
    def parted(self) -> Amount:
        """What went out of the studio and is not lost."""
        return total_of(amount for key, amount in self.went.items() if key not in _NOT_PARTED)

    @property
    def lost(self) -> Amount:
        return total_of(self.losses.values())

    @property
    def losses(self) -> dict[str, Amount]:
        """What was lost at each stage (LOSSES), less what came back there; stages of nothing are left out."""
        found: dict[str, Amount] = {}
        for side, stages, sign in ((self.went, WENT, 1), (self.came, CAME, -1)):
            for stage in stages:
                if stage.loss and stage.key in side:
                    amount = side[stage.key] if sign > 0 else Amount() - side[stage.key]
                    found[stage.loss] = found.get(stage.loss, Amount()) + amount
        return {name: found[name] for name in LOSSES if name in found}

    def weighings_of(self, loss: str) -> int:
        """How many lines of the book a stage of the loss is made of."""
        return sum(self.lines[stage.key] for stage in (*WENT, *CAME) if stage.loss == loss)

    @property
    def total_in(self) -> Amount:
        return total_of(self.opening.values()) + total_of(self.came.values())

    @property
    def total_out(self) -> Amount:
        return total_of(self.went.values()) + total_of(self.closing.values())

    @property
    def is_empty(self) -> bool:
        sides = (self.opening, self.came, self.went, self.closing)
        return all(amount.is_nothing for side in sides for amount in side.values())


def compute_accounts(held: Iterable[tuple[End, Amount]], flows: Iterable[Flow]) -> dict[Key, MetalAccount]:
    """Every account that there is metal of or that the flows touch. `held` is what is held today.

    What was held at the end of the time is what is held today less what moved since, and at its start that less
    what moved in it: so ten years of books need not be read for the last month. What came and went is added up
    apart from what is held.
    """
    accounts: dict[Key, MetalAccount] = defaultdict(MetalAccount)
    for end, amount in held:
        if end.key is not None:
            accounts[end.key].opening[end.held] += amount
            accounts[end.key].closing[end.held] += amount
    for flow in flows:
        source, target = flow.source, flow.target
        if target.key is not None:
            account = accounts[target.key]
            account.closing[target.held] -= flow.after
            account.opening[target.held] -= flow.after + flow.during
        if source.key is not None:
            account = accounts[source.key]
            account.closing[source.held] += flow.after
            account.opening[source.held] += flow.after + flow.during
        if source.key != target.key:
            _cross(accounts, flow)
    return {key: account for key, account in accounts.items() if not account.is_empty}


def check_account(account: MetalAccount) -> str:
    """Say by how much the two sides differ; "" when they agree, as they always should."""
    difference = account.total_in - account.total_out
    if difference.is_nothing:
        return ""
    return (
        f"The two sides differ by {difference.quantity} mg, {difference.fine_ug} micrograms fine and "
        f"{difference.cost_micro} millionths: the books were altered. Run the audit."
    )


def _cross(accounts: dict[Key, MetalAccount], flow: Flow) -> None:
    """Book what crosses the border of an account."""
    source, target, amount = flow.source, flow.target, flow.during
    if amount.is_nothing:
        return
    if target.key is not None:
        account, given_back = accounts[target.key], _find(_GIVES_BACK, source, target, flow.entry_kind)
        if given_back:
            account.went[given_back] -= amount
        else:
            arrival = _name(CAME, source, target, flow.entry_kind, "from", "came_else")
            account.came[arrival] += amount
            account.lines[arrival] += flow.lines
    if source.key is not None:
        departure = _name(WENT, target, source, flow.entry_kind, "to", "went_else")
        accounts[source.key].went[departure] += amount
        accounts[source.key].lines[departure] += flow.lines


def _name(stages: Iterable[Stage], there: End, here: End, entry_kind: str, way: str, otherwise: str) -> str:
    """The line of what came from or went to an end that is not of the account."""
    if there.key is not None and here.key is not None:
        return f"{way}_owner" if there.key[1] != here.key[1] else f"{way}_other"
    return _find(stages, there, here, entry_kind) or otherwise


def _find(stages: Iterable[Stage], there: End, here: End, entry_kind: str) -> str:
    fitting = (stage.key for stage in stages if stage.fits(there.place, entry_kind, here.held))
    return next(fitting, "") if there.key is None and there.place else ""
