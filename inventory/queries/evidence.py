"""Reads for the evidence: what was written down of every cast that bears on how it came out, and what that tells.

A cast failed if all of it did, or any casting of it: weighed out as failed, or put back in the pot since. The number of
queries does not depend on how many casts there are.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from statistics import median_low
from typing import Any, NamedTuple

from django.db.models import Case, F, Max, Q, Sum, When
from django.db.models.functions import Coalesce

from inventory.core.control_chart import LEAST_CASTS
from inventory.core.evidence import Finding, compute_findings, work_correction
from inventory.core.factors import (
    FACTORS,
    Bounds,
    Factor,
    Recorded,
    share_gone_pct,
    split_casts,
)
from inventory.core.odds import Split
from inventory.models import (
    Alloy,
    Cast,
    CastingDay,
    CastMoment,
    Entry,
    Equipment,
    Firing,
    Lot,
    Movement,
    Piece,
    PlanPart,
    Studio,
)
from studio.kit.working import Working

from .cast_metal import CHARGE, INTO, WEIGHED_OUT
from .equipment import USED
from .ledger import STANDING
from .studio import current_practice

FAIL_RULE = (
    "A cast counts as failed where all of it failed or any casting of it did: weighed out as failed, or put back in "
    "the pot later. Casts that ended without a pour do not count."
)


class Evidence:
    """All casts that were weighed out, by their keys, and what they tell of each factor."""

    def __init__(self, casts: Mapping[int, Recorded], bounds: Bounds) -> None:
        self.casts, self.bounds = casts, bounds

    @cached_property
    def findings(self) -> dict[Factor, Finding]:
        """What the casts say of each factor, in the order of the factors."""
        splits = {one.name: split_casts(one, self.casts.values(), self.bounds) for one in FACTORS}
        told = compute_findings(splits)
        return {one: told[one.name] for one in FACTORS}

    @property
    def correction(self) -> Working | None:
        return work_correction({one.name: found for one, found in self.findings.items()})

    @property
    def ranked(self) -> list[tuple[Factor, Finding]]:
        """What goes most surely with failed casts first."""
        return sorted(self.findings.items(), key=lambda pair: pair[1].rank)

    @property
    def failed(self) -> int:
        return sum(cast.failed for cast in self.casts.values())

    @property
    def too_few(self) -> str:
        """Why nothing can be told yet, in a sentence; "" where something can."""
        count = len(self.casts)
        if count < LEAST_CASTS:
            casts = "1 cast is" if count == 1 else f"{count or 'No'} casts are"
            return f"{casts} too few to tell what goes with failed ones: from {LEAST_CASTS} casts on it is reckoned."
        if not self.failed:
            return f"None of {count} casts failed, so nothing can be told of what goes with it."
        return "" if self.failed < count else f"All of {count} casts failed, so nothing sets them apart."

    def causes_of(self, cast: int) -> list["LikelyCause"]:
        """What stands in the record of a cast of what may go with failed ones, by how sure that is."""
        recorded = self.casts.get(cast)
        if recorded is None:
            return []
        return [
            LikelyCause(factor, factor.words(recorded, self.bounds), finding)
            for factor, finding in self.ranked
            if factor.holds(recorded, self.bounds)
        ]


@dataclass(frozen=True)
class LikelyCause:
    """A factor that one cast has, how it stands in its record, and what all casts tell of it."""

    factor: Factor
    words: str
    finding: Finding


def read_evidence(studio: Studio) -> Evidence:
    """Every cast that was weighed out. Eleven queries."""
    rows = _read_casts()
    counted = [row for row in rows if row["counts"]]
    vacuums = [row["vacuum_inhg_tenths"] for row in counted if row["vacuum_inhg_tenths"]]
    bounds = Bounds(
        median_low(vacuums) if vacuums else None, studio.least_fresh_pct100, studio.most_melts_milli
    )
    crucibles = Equipment.objects.filter(kind=Equipment.Kind.CRUCIBLE)
    known = {
        pk: (life, before) for pk, life, before in crucibles.values_list("pk", "life_uses", "uses_before")
    }
    before = _melts_before(rows, {pk: before for pk, (_, before) in known.items()})
    failed, in_firing = _with_failed_castings(), _poured_before(rows)
    charges, powders, fired = _read_charges(), _read_powder(), _Fired.read()
    heats = {alloy.pk: alloy.heats for alloy in Alloy.objects.all()}
    casts = {}
    for row in counted:
        pk, charge, powder = row["pk"], charges.get(row["pk"], _Charge()), powders.get(row["pk"], _Powder())
        casts[pk] = Recorded(
            number=row["number"],
            failed=row["outcome"] == Cast.Outcome.FAILED or pk in failed,
            heats=heats[row["alloy_id"]],
            vacuum_tenths=row["vacuum_inhg_tenths"],
            metal_c=row["metal_c"],
            flask_c=row["flask_c"],
            **fired.of(pk, row["firing_id"]),
            poured_before=in_firing.get(pk),
            **powder._asdict(),
            **charge._asdict(),
            crucible_melts=before.get(pk),
            crucible_life=known.get(row["crucible_id"], (None, 0))[0],
        )
    return Evidence(casts, bounds)


#: So many designs are looked at, those on the most casts: with each one more, chance has one more try.
MOST_DESIGNS = 12


def read_designs(evidence: Evidence) -> dict[str, Finding]:
    """What casts of each design tell against all others, by its name; those on the most casts. Two queries.

    A design was on a cast where a casting of it came out, or where a plan had it on the tree. Casts of which no design
    is known do not count.
    """
    pieces = Piece.objects.filter(void=False, design__isnull=False).order_by()
    planned = PlanPart.objects.filter(design__isnull=False, is_piece=True, plan__cast__isnull=False)
    with_design: dict[str, set[int]] = defaultdict(set)
    for rows in (
        pieces.values_list("design__name", "cast").distinct(),
        planned.order_by().values_list("design__name", "plan__cast").distinct(),
    ):
        for name, cast in rows:
            if cast in evidence.casts:
                with_design[name].add(cast)
    most = sorted(with_design, key=lambda name: (-len(with_design[name]), name))[:MOST_DESIGNS]
    known = set[int]().union(*with_design.values())
    failed = {pk for pk in known if evidence.casts[pk].failed}
    return compute_findings({name: _split_by(with_design[name], known, failed) for name in most})


def _split_by(chosen: Set[int], known: Set[int], failed: Set[int]) -> Split:
    others = known - chosen
    return Split(len(chosen & failed), len(chosen - failed), len(others & failed), len(others - failed))


def _read_casts() -> list[dict[str, Any]]:
    """Poured casts in the order of their numbers; `counts` where one was weighed out."""
    counts = Case(When(WEIGHED_OUT, then=True), default=False)
    names = ("pk", "number", "outcome", "alloy_id", "crucible_id", "firing_id", "metal_c", "flask_c")
    casts = Cast.objects.filter(Q(WEIGHED_OUT) | Q(USED)).order_by("number")
    return list(casts.values(*names, "vacuum_inhg_tenths", "poured", counts=counts))


def _melts_before(rows: Iterable[dict[str, Any]], uses_before: Mapping[int, int]) -> dict[int, int]:
    """How often the crucible of each cast had melted when its turn came, by cast; from what each had before."""
    melts, before = Counter(uses_before), {}
    for row in rows:
        crucible = row["crucible_id"]
        if crucible is not None and row["poured"]:
            before[row["pk"]] = melts[crucible]
            melts[crucible] += 1
    return before


def _poured_before(rows: Iterable[dict[str, Any]]) -> dict[int, int]:
    """How many flasks of the firing of each cast were recorded before it, by cast."""
    flasks: Counter[int] = Counter()
    before = {}
    for row in rows:
        firing = row["firing_id"]
        if firing is not None:
            before[row["pk"]] = flasks[firing]
            flasks[firing] += 1
    return before


def _with_failed_castings() -> set[int]:
    """Casts of which some casting failed."""
    weighed = Lot.objects.filter(origin=Lot.Origin.FAILED, void=False, from_cast__isnull=False)
    melted = Piece.objects.filter(state=Piece.State.MELTED, void=False).order_by()
    return {*weighed.order_by().values_list("from_cast", flat=True), *melted.values_list("cast", flat=True)}


class _Charge(NamedTuple):
    charge_mg: int = 0
    fresh_mg: int = 0
    melted: int = 0


def _read_charges() -> dict[int, _Charge]:
    moves = Movement.objects.filter(STANDING, INTO[CHARGE]).order_by().values_list("entry__cast")
    fresh = Q(source__lot__origin__in=Lot.FRESH, source__lot__melts_milli=0)
    rows = moves.annotate(
        charge=Sum("quantity"),
        fresh=Coalesce(Sum("quantity", filter=fresh), 0),
        melted=Coalesce(Sum(F("quantity") * F("source__lot__melts_milli")), 0),
    )
    return {cast: _Charge(*map(int, numbers)) for cast, *numbers in rows}


class _Powder(NamedTuple):
    powder_gone_pct: int | None = None
    powder_spoilt: bool | None = None


def _read_powder() -> dict[int, _Powder]:
    """Of each cast how old its powder was when it was mixed, the oldest of it, and whether any was spoilt by then."""
    moves = Movement.objects.filter(STANDING, entry__kind=Entry.Kind.POWDER).order_by()
    names = ("received_on", "use_by", "damp_on", "sets_wrong_on")
    found: dict[int, _Powder] = {}
    for cast, day, received_on, use_by, *faults in moves.values_list(
        "entry__cast", "day", *(f"source__lot__{name}" for name in names)
    ):
        before = found.get(cast, _Powder())
        gone = share_gone_pct(received_on, use_by, day)
        oldest = max((one for one in (before.powder_gone_pct, gone) if one is not None), default=None)
        spoilt = any(fault is not None and fault <= day for fault in faults)
        found[cast] = _Powder(oldest, spoilt or bool(before.powder_spoilt))
    return found


@dataclass(frozen=True)
class _Fired:
    """The hours of firings, what their schedules take, and when flasks were invested and looked over."""

    minutes: Mapping[int, int]
    schedules: Mapping[int, tuple[int, int]]
    moments: Mapping[tuple[int, str], datetime]
    standing_minutes: int

    @classmethod
    def read(cls) -> "_Fired":
        days = CastingDay.objects.filter(firing__isnull=False).order_by()
        taken = Sum(F("schedule__steps__climb_minutes") + F("schedule__steps__hold_minutes"))
        planned = days.values_list("firing", "standing_minutes").annotate(taken=taken)
        kinds = (CastMoment.Kind.INVESTED, CastMoment.Kind.TICK)
        ended = Firing.objects.order_by().values_list("pk", "minutes")
        moments = CastMoment.objects.filter(kind__in=kinds).order_by().values_list("cast", "kind")
        return cls(
            {pk: minutes for pk, minutes in ended if minutes is not None},
            {firing: (standing, taken or 0) for firing, standing, taken in planned},
            {(cast, kind): at for cast, kind, at in moments.annotate(at=Max("at"))},
            current_practice().standing_minutes,
        )

    def of(self, cast: int, firing: int | None) -> dict[str, Any]:
        """What is known of the firing and the standing of a cast, by the names of `Recorded`."""
        minutes = self.minutes.get(firing or 0)
        standing, schedule = self.schedules.get(firing or 0, (self.standing_minutes, None))
        invested = self.moments.get((cast, CastMoment.Kind.INVESTED))
        looked_over = self.moments.get((cast, CastMoment.Kind.TICK))
        stood = None
        if minutes and invested and looked_over:
            # Flasks are looked over just before the pour; the firing ends there.
            stood = (looked_over - invested) // timedelta(minutes=1) - minutes
        return {
            "fired_minutes": minutes,
            "schedule_minutes": schedule,
            # Less than nothing: the list was ticked long before the pour, so nobody knows.
            "stood_minutes": stood if stood is not None and stood >= 0 else None,
            "standing_minutes": standing,
        }
