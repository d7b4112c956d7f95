"""Reads of what is melted and poured: families of metal, what an alloy is made of, the power of a melter."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import timedelta

from django.db.models import Q

from inventory.core.day_plan import FlaskPour, count_melt_minutes
from inventory.core.melting import (
    ELEMENT_HEAT,
    Melt,
    Power,
    compute_melt_heat,
    compute_melt_time,
    measure_power,
    rate_power,
)
from inventory.core.schedule import ROOM_C
from inventory.models import Alloy, Cast, CastMoment, DayPractice, Equipment, Plan

from .cast_metal import metal_of_casts
from .plans import ZINC, PlanDraft

MELTS_MOST = 24
"""So many of the last casts are asked for melts that were timed."""
Metal = Alloy.Metal
MAIN_ELEMENT = {Metal.SILVER: "Ag", Metal.GOLD: "Au", Metal.PLATINUM: "Pt", Metal.PALLADIUM: "Pd"}


def metal_family(alloy: Alloy) -> tuple[str, int]:
    """With what an alloy may share a crucible, and how foul its melt is: precious metal 0, base metal more, zinc most.

    Base metal whose composition nobody wrote down counts as holding zinc.
    """
    if alloy.metal != Metal.BASE:
        return alloy.get_metal_display(), 0
    elements = {part.element for part in alloy.parts.all()}
    if elements and ZINC not in elements:
        return "base metal", 1
    return "base metal with zinc", 2


def composition_of(alloy: Alloy) -> dict[str, int]:
    """The elements of an alloy whose heat is known, as parts of any total.

    Of precious metal that nobody took apart, the rest counts as copper; of base metal, empty.
    """
    parts = {part.element: part.per_10000 for part in alloy.parts.all() if part.element in ELEMENT_HEAT}
    main = MAIN_ELEMENT.get(Metal(alloy.metal))
    if parts or main is None:
        return parts
    return {main: alloy.fineness, "Cu": 1000 - alloy.fineness}


def flask_pour(
    flask: Plan | PlanDraft, metal_mg: int, powers: Mapping[int, Power | None], practice: DayPractice
) -> FlaskPour:
    """A flask as the day knows it. Its alloy should have been read with its parts."""
    alloy, crucible = flask.alloy, str(flask.crucible or "")
    family, foulness = metal_family(alloy)
    melt = compute_melt_time(
        _melt(alloy, metal_mg, practice.room_c),
        powers.get(flask.machine.pk) if flask.machine else None,
        count_melt_minutes(practice.lead_minutes, practice.out_minutes),
    )
    wait = alloy.quench_minutes
    return FlaskPour(flask.title, alloy.name, alloy.heats, melt, family, foulness, crucible, wait)


def _melt(alloy: Alloy, metal_mg: int, room_c: int) -> Melt:
    heats = alloy.heats
    return Melt(
        metal_mg, composition_of(alloy), heats.liquidus_c, heats.pour_most_c or heats.pour_least_c, room_c
    )


def melter_powers(machines: Iterable[Equipment | None]) -> Mapping[int, Power | None]:
    """What of each melter's power ends in the metal, by its key: from its own melts, else from its plate.

    At most four queries, whatever the number of machines.
    """
    known = {machine.pk: machine for machine in machines if machine is not None}
    if not known:
        return {}
    melts = _timed_melts(known)
    return {
        key: measure_power(melts[key]) or rate_power(machine.rated_w, machine.share_on_pct100)
        for key, machine in known.items()
    }


def _timed_melts(machines: Iterable[int]) -> Mapping[int, list[tuple[int, int]]]:
    """(joules, seconds) of the last melts in each machine that were timed at the bench, from metal in to the pour."""
    casts = (
        Cast.objects.filter(machine__in=machines, poured=True).order_by("-number").values("pk")[:MELTS_MOST]
    )
    rows = CastMoment.objects.filter(
        kind__in=(CastMoment.Kind.METAL, CastMoment.Kind.POURED), cast__in=[one["pk"] for one in casts]
    )
    times: dict[int, dict[str, CastMoment]] = defaultdict(dict)
    for moment in rows.select_related("cast__alloy").prefetch_related("cast__alloy__parts"):
        times[moment.cast_id][moment.kind] = moment
    whole = {cast: of for cast, of in times.items() if len(of) == 2}
    melts: dict[int, list[tuple[int, int]]] = defaultdict(list)
    if not whole:
        return melts
    charges = metal_of_casts(Q(entry__cast__in=list(whole)))
    for pk, of in whole.items():
        cast = of[CastMoment.Kind.METAL].cast
        melt = _melt(cast.alloy, charges[pk].grams.charge_mg, ROOM_C)
        if melt.parts and melt.mass_mg and cast.machine_id:
            heat_j, _ = compute_melt_heat(melt)
            melts[cast.machine_id].append(
                (
                    heat_j,
                    (of[CastMoment.Kind.POURED].at - of[CastMoment.Kind.METAL].at) // timedelta(seconds=1),
                )
            )
    return melts
