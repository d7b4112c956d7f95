"""The account of a metal over a time: what was here and what came in is what went out and what is here.

Amounts are milligrams, micrograms fine and millionths of the currency. A holder is a lot, a crucible, a
piece or a batch; everything else is outside. Nothing is rounded here, so the two sides agree to the last unit.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from inventory.core.ledger import Amount, total_of

Key = tuple[int, int | None]
"""Whose metal and which: (alloy, owner); owner None is the studio."""

CAME_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "bought": "Bought",
        "late_bill": "Late bills on what was here",
        "opening": "Opening stock entered",
        "handed_in": "Handed in",
        "topped_up": "From the studio's own metal",
        "from_other": "Came from another alloy",
        "counted": "Found at a count",
        "found": "Found later, of what was lost",
        "refined": "Put to it and charged by refiners",
        "came_else": "Came in otherwise",
    }
)
WENT_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "sold_new": "Gone in pieces cast in this time",
        "sold_old": "Gone in pieces cast before",
        "handed_back": "Handed back",
        "passed_on": "Passed to customers",
        "to_other": "Used with another alloy",
        "alloyed": "Fine metal of another kind, no longer counted",
        "lost_pour": "Lost at the pour",
        "lost_finish": "Lost in finishing",
        "missing": "Missing at a count",
        "scrapped": "Thrown away",
        "refined_out": "Paid out or kept by refiners",
        "refined_lost": "Lost at the refiner",
        "refined_assay": "Assay difference at the refiner",
        "went_else": "Went out otherwise",
    }
)
HELD_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "lot": "in lots and tins",
        "crucible": "in open casts",
        "piece_new": "in pieces cast in this time",
        "piece_old": "in pieces cast before",
        "batch": "at the refiner",
    }
)


@dataclass(frozen=True, slots=True)
class End:
    """Where metal comes from or goes to: a holder of an account, or a named place outside (key None).

    `is_new` marks a piece that was cast within the time of the report.
    """

    kind: str
    place: str = ""
    key: Key | None = None
    is_new: bool = False

    @property
    def held(self) -> str:
        if self.kind != "piece":
            return self.kind
        return "piece_new" if self.is_new else "piece_old"


@dataclass(frozen=True, slots=True)
class Flow:
    """All movements alike between two ends: in the time of the report, and after it until today."""

    source: End
    target: End
    entry_kind: str
    during: Amount
    after: Amount


@dataclass
class MetalAccount:
    """One account; the keys are those of HELD_LABELS, CAME_LABELS and WENT_LABELS.

    What was lost at the pour and in finishing is net of what a scale's error gave back.
    """

    opening: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    came: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    went: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))
    closing: dict[str, Amount] = field(default_factory=lambda: defaultdict(Amount))

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
        arrival = _name_arrival(flow)
        if arrival in CAME_LABELS:
            accounts[target.key].came[arrival] += amount
        else:
            accounts[target.key].went[arrival] -= amount
    if source.key is not None:
        accounts[source.key].went[_name_departure(flow)] += amount


_DIFFERENCES = {"ref_lost": "refined_lost", "ref_assay": "refined_assay"}
_ARRIVALS = {
    "opening": "opening",
    "customer": "handed_in",
    "counted": "counted",
    "refiner": "refined",
    **_DIFFERENCES,
}
# What failed castings weigh less once their investment is off was metal that the pour had lost.
_LOSSES = {"close": "lost_pour", "cleaned": "lost_pour", "finish": "lost_finish"}
_DEPARTURES = {
    "counted": "missing",
    "scrapped": "scrapped",
    "alloyed": "alloyed",
    "refiner": "refined_out",
    **_DIFFERENCES,
}


def _name_arrival(flow: Flow) -> str:
    if flow.entry_kind == "top_up":
        return "topped_up"
    if flow.source.key is not None:
        return "from_other"
    place = flow.source.place
    if place == "supplier":
        return "late_bill" if flow.entry_kind == "late_bill" else "bought"
    if place == "lost":
        return "found" if flow.entry_kind == "found" else _LOSSES.get(flow.entry_kind, "came_else")
    return _ARRIVALS.get(place, "came_else")


def _name_departure(flow: Flow) -> str:
    if flow.entry_kind == "top_up":
        return "passed_on"
    if flow.target.key is not None:
        return "to_other"
    place = flow.target.place
    if place == "customer":
        if flow.source.kind != "piece":
            return "handed_back"
        return "sold_new" if flow.source.is_new else "sold_old"
    if place == "lost":
        return _LOSSES.get(flow.entry_kind, "went_else")
    return _DEPARTURES.get(place, "went_else")
