"""What is said of the pours of one firing: what each flask is called, what the queue means for kiln and crucible."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from studio.kit.printing import print_celsius, print_minutes
from studio.kit.working import Given, Source, Step, Working, make_working, origin_of

from .day_plan import DayPlan, FlaskPour
from .pour_queue import COOLING_MINUTES, HAND_MINUTES, Turn, compute_cooled_c
from .slow_pour import compute_melter_set_point


@dataclass(frozen=True, slots=True)
class Names:
    """What goes into the crucible, which flask is poured (" the Bronze"), the flask in the kiln, and its metal."""

    metal: str = "Metal into the crucible"
    which: str = ""
    flask: str = "The flask"
    molten: str = "The metal"


def name_flask(flask: FlaskPour, flasks: Sequence[FlaskPour]) -> Names:
    """By its alloy where no other flask has it, else by its tree; a flask alone is not named."""
    if len(flasks) == 1:
        return Names()
    if sum(other.alloy == flask.alloy for other in flasks) == 1:
        metal, which = f"{flask.alloy} into the crucible", f"the {flask.alloy}"
        return Names(metal, f" {which}", f"Flask of {which}", f"The {flask.alloy}")
    metal, title = f"Metal into the crucible for {flask.title}", flask.title
    return Names(metal, f" {title}", f"Flask of {title}", f"The metal for {title}")


def find_hold_minutes(turns: Sequence[Turn]) -> int:
    """How much longer than its schedule the kiln holds, until the last flask is out."""
    return max((turn.out for turn in turns), default=0) if len(turns) > 1 else 0


def tell_pours(plan: DayPlan, turns: Sequence[Turn]) -> Iterator[str]:
    """That flasks are poured in turn and the kiln waits; a crucible, melt, flask or set point that does not suit."""
    if len(turns) > 1:
        yield _tell_turns(plan, turns)
    yield from _tell_crucibles(plan, turns)
    if len(turns) == 1:
        yield from _tell_long_melt(plan, turns[0])
    for flask in plan.flasks:
        if said := flask.heats.check_flask(plan.steps[-1].target_c, flask.alloy):
            yield said
        point = compute_melter_set_point(flask.heats, plan.practice.slow, flask.alloy)
        if point is not None and point.problem:
            yield point.problem


def _tell_turns(plan: DayPlan, turns: Sequence[Turn]) -> str:
    first, *others = turns

    def name(turn: Turn) -> str:
        return name_flask(plan.flasks[turn.place], plan.flasks).which.strip()

    after = ", ".join(f"{name(turn)} {print_minutes(turn.pour)} after it" for turn in others)
    longer, end_c = find_hold_minutes(turns), print_celsius(plan.steps[-1].target_c)
    held = (
        f" The kiln holds {end_c} for {print_minutes(longer)} more, until the last one is out."
        if longer > 0
        else ""
    )
    return f"{len(turns)} flasks come out of one kiln in turn: first {name(first)}, {after}.{held}"


def _tell_crucibles(plan: DayPlan, turns: Sequence[Turn]) -> Iterator[str]:
    last: dict[str, FlaskPour] = {}
    for turn in turns:
        flask = plan.flasks[turn.place]
        before = last.get(flask.crucible)
        if flask.crucible and before is not None and before.family != flask.family:
            yield (
                f"{flask.crucible} would melt {before.alloy} and then {flask.alloy}: what is left in it spoils the "
                f"next metal. Take another crucible for the {flask.alloy}."
            )
        last[flask.crucible] = flask


def _tell_long_melt(plan: DayPlan, turn: Turn) -> Iterator[str]:
    melt = plan.flasks[0].melt
    there = turn.pour - turn.metal_in
    if melt is not None and melt.minutes > there:
        yield (
            f"The charge is reckoned to melt in {print_minutes(melt.minutes)}, and it goes in {print_minutes(there)} "
            "before the pour. Put it in sooner."
        )


def work_queue(plan: DayPlan, turns: Sequence[Turn]) -> Working | None:
    """How the times of several pours come about, counted from the first; None for one flask."""
    if len(turns) < 2:
        return None
    practice = plan.practice
    steps = []
    for before, turn in zip(turns, turns[1:], strict=False):
        melter = turn.pour - turn.metal_in
        change = practice.change_minutes if turn.changes_crucible else 0
        spare = turn.metal_in - before.pour - HAND_MINUTES - change
        parts = [f"{print_minutes(before.pour)} + {print_minutes(HAND_MINUTES)} to pour"]
        parts += [f"{print_minutes(change)} for another crucible"] if change else []
        parts += [f"{print_minutes(spare)} until the table is free"] if spare else []
        parts += [f"{print_minutes(melter)} from metal in to its pour"]
        name = name_flask(plan.flasks[turn.place], plan.flasks).which.strip()
        steps.append(Step(f"{name}: {' + '.join(parts)}", f"pour {print_minutes(turn.pour)} after the first"))
    melts = [
        Given(
            f"{name_flask(flask, plan.flasks).which.strip()} melts in",
            print_minutes(flask.waiting(practice).melt_minutes),
            flask.melt.origin if flask.melt else Source.OWN_SETTING,
        )
        for flask in plan.flasks
    ]
    return make_working(
        "Melts and pours in turn",
        "one melter, one vacuum table, one pair of hands: clean metals first, a family of metals and its crucible "
        "together, the hottest flask first, and the least waiting among what that leaves open",
        *melts,
        Given(
            "another crucible takes",
            print_minutes(practice.change_minutes),
            origin_of(practice.change_minutes),
        ),
        Given(
            "vacuum after the pour", print_minutes(practice.table_minutes), origin_of(practice.table_minutes)
        ),
        Given(
            "flask out of the kiln before its pour",
            print_minutes(practice.out_minutes),
            origin_of(practice.out_minutes),
        ),
        *steps,
        result=f"the last pour {print_minutes(turns[-1].pour)} after the first",
        notes=(_say_cooling(plan),),
    )


def _say_cooling(plan: DayPlan) -> str:
    tau, kiln_c = plan.practice.cooling_minutes, plan.steps[-1].target_c
    cooled = cool_flask(plan)
    origin = "by your own time of cooling" if tau else "by a guess of ours until you measure it"
    return (
        f"Out of the kiln a flask goes from {print_celsius(kiln_c)} to about {print_celsius(cooled)} before its pour "
        f"(Newton's law of cooling, {print_minutes(tau or COOLING_MINUTES)}, {origin})."
    )


def cool_flask(plan: DayPlan) -> int:
    """Degrees of a flask at its pour, after it stood out of the kiln."""
    practice = plan.practice
    tau = practice.cooling_minutes or COOLING_MINUTES
    return compute_cooled_c(plan.steps[-1].target_c, practice.out_minutes, plan.kiln.room_c, tau)
