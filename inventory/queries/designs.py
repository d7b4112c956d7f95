"""Reads of designs: their list, what they have learnt from their pieces, and which pieces have their name.

Volumes are kept as Fractions of mm³ times 1000, so that castings of one design in several alloys are alike. The number
of queries does not depend on how many designs there are.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import Count, Prefetch, Q, QuerySet, Sum

from inventory.core.credibility import Blend, Tally, Wider, compute_blend, compute_wider, tally
from inventory.core.pieces import name_without_number
from inventory.models import (
    BenchShare,
    BenchTime,
    Cast,
    Design,
    DesignPart,
    Entry,
    Material,
    Movement,
    Piece,
    PlanPart,
)
from studio.kit.models import only_one
from studio.kit.printing import print_milligrams, print_percent, print_seconds
from studio.kit.units import PCT100_WHOLE, SECONDS_PER_MINUTE, round_half_up

from .ledger import STANDING
from .setup import every

MOST_PIECES = 4_000
"""The latest pieces that anything is learnt from."""

VOLUME_SCALE = 1_000_000
DONE = (Piece.State.FINISHED, Piece.State.SOLD, Piece.State.HANDED)


def designs() -> "QuerySet[Design]":
    """Designs with their number of pieces, alphabetically."""
    counted = Count("pieces", filter=Q(pieces__void=False), distinct=True)
    return every(Design).select_related("alloy", "pattern_material").annotate(made=counted)


def find_design(pk: int) -> Design | None:
    rows = designs().prefetch_related("parts__material", "times")
    return only_one(rows.filter(pk=pk))


def designs_in_order(keys: Sequence[int]) -> list[Design]:
    """Those that there are, in this order, with what their castings and patterns are of."""
    found = Design.objects.select_related("alloy", "pattern_material").prefetch_related("times").in_bulk(keys)
    return [found[key] for key in keys if key in found]


def designs_costed() -> "QuerySet[Design]":
    """Designs with all that their cost is made of."""
    return Design.objects.select_related("alloy", "pattern_material").prefetch_related(
        costed_parts(), "times"
    )


def costed_parts(path: str = "") -> "Prefetch[str]":
    """The parts of designs, for who reads designs with something else; `path` leads to them, such as "design__"."""
    return Prefetch(f"{path}parts", DesignPart.objects.select_related("material__finding_alloy"))


def designs_by_name(names: Iterable[str]) -> dict[str, Design]:
    """Each design among these names, by its name in small letters: one query, and none for no names."""
    wanted = {name_without_number(" ".join(name.split())) for name in names} | set(names)
    if not wanted:
        return {}
    match = Q()
    for name in wanted:
        match |= Q(name__iexact=name)
    return {one.name.lower(): one for one in Design.objects.filter(match)}


def design_named(name: str, known: Mapping[str, Design]) -> Design | None:
    return known.get(name.lower()) or known.get(name_without_number(name).lower())


def nameless_pieces(design: Design, most: int = 500) -> list[Piece]:
    """Pieces that are of no design and have this one's name, with or without a number; the latest first."""
    rows = Piece.objects.filter(void=False, design=None, name__istartswith=design.name)
    found = rows.select_related("cast").order_by("-cast__number", "number")[:most]
    wanted = design.name.lower()
    return [one for one in found if wanted in (one.name.lower(), name_without_number(one.name).lower())]


def pieces_of(design: Design) -> "QuerySet[Piece]":
    """The latest first."""
    rows = Piece.objects.filter(void=False, design=design).select_related("cast", "holder")
    return rows.order_by("-cast__number", "number")


@dataclass
class Samples:
    """What the pieces of one design weighed, lost and took; volumes of metal, shares in hundredths of a per cent."""

    cast: list[Fraction] = field(default_factory=list)
    pattern: list[Fraction] = field(default_factory=list)
    finished: list[Fraction] = field(default_factory=list)
    loss: list[Fraction] = field(default_factory=list)
    seconds: list[int] = field(default_factory=list)
    by_task: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    failed: list[int] = field(default_factory=list)
    in_cast: dict[int, int] = field(default_factory=lambda: defaultdict(int))


@dataclass(frozen=True)
class Record:
    """What all designs have learnt, read once: the figures of each, and of all together."""

    samples: Mapping[int, Samples]

    def own(self, design_id: int | None, figure: str) -> Tally:
        samples = self.samples.get(design_id or 0)
        return tally(getattr(samples, figure)) if samples else Tally()

    def wider(self, figure: str) -> Wider:
        if figure not in self._wider:
            self._wider[figure] = compute_wider(self.own(pk, figure) for pk in self.samples)
        return self._wider[figure]

    _wider: dict[str, Wider] = field(default_factory=dict)


def read_record() -> Record:
    """The latest pieces of all designs. A fixed handful of queries."""
    rows = Piece.objects.filter(void=False, design__isnull=False).order_by("-pk")
    columns = ("pk", "holder_id", "design_id", "as_cast_mg", "state", "pattern_mass_mg", "cast_id")
    more = ("cast__alloy__density_mg_cm3", "pattern_material__density_mg_cm3")
    pieces = list(rows.values_list(*columns, *more)[:MOST_PIECES])
    finishing = _finishing(Q(design__isnull=False))
    by_piece = read_seconds({row[0] for row in pieces})
    samples: dict[int, Samples] = defaultdict(Samples)
    for pk, holder, design, cast_mg, state, pattern_mg, cast, density, pattern_density in pieces:
        found = samples[design]
        found.in_cast[cast] += 1
        found.cast.append(Fraction(cast_mg * VOLUME_SCALE, density))
        if pattern_mg and pattern_density:
            found.pattern.append(Fraction(pattern_mg * VOLUME_SCALE, pattern_density))
        found.failed.append(PCT100_WHOLE if state == Piece.State.MELTED else 0)
        if state in DONE:
            gone_mg = finishing.get(holder, 0)
            found.finished.append(Fraction((cast_mg - gone_mg) * VOLUME_SCALE, density))
            found.loss.append(Fraction(gone_mg * PCT100_WHOLE, cast_mg))
            spent = by_piece.get(pk, {})
            if spent:
                found.seconds.append(sum(spent.values()))
                for task, seconds in spent.items():
                    found.by_task[task] += seconds
    for design, count in _lost_with_their_cast():
        samples[design].failed += [PCT100_WHOLE] * count
    return Record(dict(samples))


def _finishing(which: Q) -> dict[int, int]:
    """Milligrams that finishing took off pieces, by their holder."""
    holders = Piece.objects.filter(which, void=False).order_by().values("holder")
    moved = Movement.objects.filter(STANDING, entry__kind=Entry.Kind.FINISH).order_by()
    gone: dict[int, int] = defaultdict(int)
    for end, sign in (("source", 1), ("target", -1)):
        rows = moved.filter(**{f"{end}__in": holders}).values_list(end).annotate(total=Sum("quantity"))
        for holder, total in rows:
            gone[holder] += sign * total
    return gone


def read_seconds(pieces: Collection[int]) -> dict[int, dict[str, int]]:
    """Seconds at the bench by piece and task: its own time, and its shares of trays."""
    found: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    own = BenchTime.objects.filter(piece__design__isnull=False, piece__void=False).order_by()
    minutes = own.values_list("piece", "task").annotate(total=Sum("minutes") * SECONDS_PER_MINUTE)
    shares = BenchShare.objects.filter(piece__design__isnull=False, piece__void=False).order_by()
    trays = shares.values_list("piece", "time__task").annotate(total=Sum("seconds"))
    for pk, task, seconds in minutes.union(trays, all=True):
        found[pk][task] += seconds
    return {pk: tasks for pk, tasks in found.items() if pk in pieces}


def _lost_with_their_cast() -> Iterable[tuple[int, int]]:
    """Castings of each design that a plan had on its tree and whose whole cast failed."""
    lost = PlanPart.objects.filter(
        design__isnull=False, is_piece=True, plan__cast__outcome=Cast.Outcome.FAILED
    ).order_by()
    return list(lost.values_list("design").annotate(lost=Sum("count")))


@dataclass(frozen=True)
class Learnt:
    """What is expected of one more piece of a design; masses in the alloy with this density, times in seconds."""

    design: Design
    density_mg_cm3: int
    cast: Blend
    finished: Blend
    loss: Blend
    seconds: Blend
    failed: Blend
    by_task: Mapping[str, int]
    #: Whether its mass is known: of others' alone nobody can tell it.
    is_weighed: bool
    #: The most castings of it that came out of one flask; 0 where none did.
    most_together: int = 0

    @property
    def blends(self) -> tuple[Blend, ...]:
        masses = (self.cast, self.finished) if self.is_weighed else ()
        return (*masses, self.loss, self.seconds, self.failed)

    @property
    def pattern_mg(self) -> int | None:
        """What a pattern weighs: as written, or from the space of the casting."""
        material = self.design.pattern_material
        if self.design.pattern_mg:
            return self.design.pattern_mg
        if not self.is_weighed or material is None or not material.density_mg_cm3:
            return None
        return round_half_up(self.cast.mean * material.density_mg_cm3 / self.density_mg_cm3) or None

    @property
    def is_cast(self) -> bool:
        return bool(self.cast.count)


def learn(design: Design, record: Record, density_mg_cm3: int | None = None) -> Learnt:
    """What a design has learnt, for an alloy of this density; without one for the alloy it is usually cast in.

    `design` should come with its times, alloy and pattern material.
    """
    usual_density = design.alloy.density_mg_cm3 if design.alloy else None
    density = density_mg_cm3 or usual_density or OTHERWISE_MG_CM3
    to_mass = Fraction(density, VOLUME_SCALE)
    over_usual = Fraction(density, usual_density) if usual_density else Fraction(1)

    def mass(title: str, figure: str, usual: Fraction | None) -> Blend:
        own, wider = record.own(design.pk, figure), record.wider(figure)
        return compute_blend(title, print_milligrams, own.scaled(to_mass), wider.scaled(to_mass), usual)

    def plain(title: str, figure: str, tell: Callable[[int], str], usual: Fraction | None = None) -> Blend:
        return compute_blend(title, tell, record.own(design.pk, figure), record.wider(figure), usual)

    usual_cast = _usual_cast(design, density, over_usual)
    finished = Fraction(design.finished_mg) * over_usual if design.finished_mg else None
    loss = None
    if finished is not None and usual_cast:
        loss = max((usual_cast - finished) * PCT100_WHOLE / usual_cast, Fraction(0))
    loss_blend = plain("Lost in finishing", "loss", print_percent, loss)
    if finished is None and usual_cast is not None:
        finished = usual_cast * (PCT100_WHOLE - loss_blend.mean) / PCT100_WHOLE
    samples = record.samples.get(design.pk)
    timed = len(samples.seconds) if samples else 0
    return Learnt(
        design=design,
        density_mg_cm3=density,
        cast=mass("Mass as cast", "cast", usual_cast),
        finished=mass("Mass finished", "finished", finished),
        loss=loss_blend,
        seconds=plain("Time at the bench", "seconds", print_seconds, usual_seconds(design)),
        failed=plain("Castings that fail", "failed", print_percent),
        by_task={task: round_half_up(Fraction(total, timed)) for task, total in samples.by_task.items()}
        if samples and timed
        else {},
        is_weighed=usual_cast is not None or bool(record.own(design.pk, "cast").count),
        most_together=max(samples.in_cast.values(), default=0) if samples else 0,
    )


OTHERWISE_MG_CM3 = 10_360
"""That of sterling silver: what masses of a design are told in that names no alloy."""


def _usual_cast(design: Design, density: int, over_usual: Fraction) -> Fraction | None:
    """What one usually weighs as cast: as written, or from its pattern."""
    if design.cast_mg:
        return design.cast_mg * over_usual
    material = design.pattern_material
    if design.pattern_mg and material is not None and material.density_mg_cm3:
        return Fraction(design.pattern_mg * density, material.density_mg_cm3)
    return None


def usual_seconds(design: Design) -> Fraction | None:
    """Of one piece, by the minutes that were written as usual; None where none were."""
    times = list(design.times.all())
    if not times:
        return None
    return sum((Fraction(one.minutes * SECONDS_PER_MINUTE, one.pieces) for one in times), Fraction(0))


def usual_minutes(made: Iterable[tuple[Design | None, int]], tasks: Collection[str] = ()) -> int:
    """Minutes that tasks usually take on so many pieces of each design together, by what is written with the designs.

    Of all tasks where none is named; 0 where nothing is known. Designs come with their times.
    """
    total = Fraction(0)
    for design, count in made:
        for one in design.times.all() if design is not None else ():
            if not tasks or one.task in tasks:
                total += Fraction(one.minutes * count, one.pieces)
    return round_half_up(total)


def planned_designs(parts: Iterable[PlanPart]) -> list[tuple[Design | None, int]]:
    """The designs of a plan's parts with how many of each; their times are read once for all."""
    counts = {part.design_id: 0 for part in parts if part.design_id}
    for part in parts:
        if part.design_id:
            counts[part.design_id] += part.count
    known = Design.objects.prefetch_related("times").in_bulk(counts) if counts else {}
    return [(known[pk], count) for pk, count in counts.items()]


def designs_of(pieces: Iterable[Piece]) -> list[tuple[Design | None, int]]:
    """The designs of these pieces with how many of each; their times are read once for all."""
    counts: dict[int, int] = defaultdict(int)
    for piece in pieces:
        if piece.design_id:
            counts[piece.design_id] += 1
    known = Design.objects.prefetch_related("times").in_bulk(counts) if counts else {}
    return [(known[pk], count) for pk, count in counts.items()]


def design_materials() -> "QuerySet[Material]":
    """What a piece may take besides its metal: findings, stones, boxes."""
    kinds = (Material.Kind.FINDING, Material.Kind.PACKAGING, Material.Kind.CONSUMABLE)
    return every(Material).filter(kind__in=kinds, archived=False)
