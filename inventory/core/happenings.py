"""What happens on a casting day, thing by thing: investing in turn, the kiln, and melts and pours in turn."""

from collections.abc import Iterator, Sequence

from studio.kit.printing import print_celsius, print_minutes, print_seconds
from studio.kit.units import SECONDS_PER_MINUTE

from .day_plan import CRUCIBLE_LONG_MINUTES, DayPlan, Happening, MomentKind
from .investing import Hand, Phase
from .mixing import MixTurn
from .pour_queue import Turn, compute_turns
from .pour_words import cool_flask, name_flask
from .schedule import GUESSED, SetPoint, Stretch, compute_set_points, lay_out
from .slow_pour import compute_melter_set_point

ORDER = tuple(MomentKind)
HANDS = {
    Hand.MIX: (MomentKind.MIX, "Powder into the water, and mix"),
    Hand.VACUUM_BOWL: (MomentKind.VACUUM_BOWL, "Vacuum on the bowl"),
    Hand.FILL: (MomentKind.FILL, "Pour the mix into the flasks"),
    Hand.VACUUM_FLASK: (MomentKind.VACUUM_FLASK, "Vacuum on the flasks"),
}


def list_happenings(plan: DayPlan) -> tuple[Happening, ...]:
    """Everything of the day in order. Raises ValueError for a schedule without steps."""
    if not plan.steps:
        raise ValueError("a day needs a schedule")
    happenings = [*_invest(plan), *_fire(plan), *_cast(plan)]
    return tuple(sorted(happenings, key=lambda one: (one.second, ORDER.index(one.kind))))


def _invest(plan: DayPlan) -> Iterator[Happening]:
    begin = -plan.investing_s - plan.standing_s
    for number, turn in enumerate(plan.turns, 1):
        for phase in turn.phases:
            words = _say_phase(phase, turn, number, len(plan.turns))
            yield Happening(begin + phase.start_s, HANDS[phase.hand][0], words, by_hand=True)
        begin += turn.seconds
    if plan.standing_s:
        stand = print_minutes(plan.practice.standing_minutes)
        yield Happening(-plan.standing_s, MomentKind.STAND, f"Let the flasks stand for {stand}.")


def _say_phase(phase: Phase, turn: MixTurn, number: int, count: int) -> str:
    """What is done with a bowl; one of several says which it is, how much goes in, and for which flasks."""
    words, seconds = HANDS[phase.hand][1], print_seconds(phase.seconds)
    if count == 1:
        return f"{words}: {seconds}."
    if phase.hand == Hand.MIX and turn.told:
        return f"Mix {number} of {count}, for {turn.flasks}: {turn.told}, and mix: {seconds}."
    return f"Mix {number} of {count}: {words[0].lower()}{words[1:]}: {seconds}."


def _fire(plan: DayPlan) -> Iterator[Happening]:
    kiln = plan.kiln
    largest = None if kiln.has_program else kiln.largest_step_c
    points = compute_set_points(plan.steps, kiln.room_c, largest)
    first_c = points[0].set_c if points else plan.steps[0].target_c
    how = "start its program" if kiln.has_program else f"set it to {print_celsius(first_c)}"
    yield Happening(
        0, MomentKind.KILN_ON, f"Flasks into the kiln, and {how}.", by_hand=True, set_point_c=first_c
    )
    for point in points[1:]:
        yield Happening(
            point.minute * SECONDS_PER_MINUTE,
            MomentKind.SET_POINT,
            _tell_set_point(point, kiln.has_program),
            by_hand=not kiln.has_program,
            set_point_c=point.set_c,
        )


def _tell_set_point(point: SetPoint, has_program: bool) -> str:
    target = print_celsius(point.set_c)
    label = f" ({point.label})" if point.label else ""
    is_up = point.set_c > point.from_c
    if not has_program:
        return f"Turn the kiln {'up' if is_up else 'down'} to {target}{label}."
    if point.hold_minutes:
        return f"The kiln holds {target} for {print_minutes(point.hold_minutes)} by itself{label}."
    return f"The kiln {'climbs' if is_up else 'cools'} to {target} by itself{label}."


def _cast(plan: DayPlan) -> Iterator[Happening]:
    laid = lay_out(plan.steps, plan.kiln.room_c)
    total = laid[-1].end_minute if laid else 0
    ready, told = _flask_ready(laid, total, plan.steps[-1].target_c)
    yield Happening(ready * SECONDS_PER_MINUTE, MomentKind.FLASK_READY, told)
    for turn in list_pour_turns(plan):
        for minute, kind, told in _tell_turn(plan, turn, total):
            yield Happening(
                max(0, total + minute) * SECONDS_PER_MINUTE,
                kind,
                told,
                by_hand=kind != MomentKind.MELTED,
                flask=turn.place,
            )


def list_pour_turns(plan: DayPlan) -> tuple[Turn, ...]:
    """Each flask's times in the order of the pours, in minutes from the first."""
    laid = lay_out(plan.steps, plan.kiln.room_c)
    total = laid[-1].end_minute if laid else 0
    passes = _find_passing(plan, laid, total)
    waiting = [flask.waiting(plan.practice) for flask in plan.flasks]
    return compute_turns(waiting, plan.practice.bench, None if passes is None else passes - total)


def _find_passing(plan: DayPlan, laid: Sequence[Stretch], total: int) -> int | None:
    """The minute at which the cooling kiln says that metal goes in; None where the studio's lead counts."""
    practice = plan.practice
    passes = None if practice.crucible_c is None else find_crucible_minute(laid, practice.crucible_c)
    if passes is not None and total - passes > max(CRUCIBLE_LONG_MINUTES, practice.lead_minutes):
        return None
    return passes


def _tell_turn(plan: DayPlan, turn: Turn, total: int) -> Iterator[tuple[int, MomentKind, str]]:
    """What is done for one flask: the minute from the first pour, what it is, and the sentence."""
    flask, is_alone = plan.flasks[turn.place], len(plan.flasks) == 1
    names = name_flask(flask, plan.flasks)
    yield turn.metal_in, MomentKind.CRUCIBLE, f"{names.metal}, {_say_when(plan, turn, total)}."
    if not is_alone:
        took = print_minutes(turn.melted - turn.metal_in)
        yield turn.melted, MomentKind.MELTED, f"{names.molten} has melted, as reckoned: {took}."
        about = print_celsius(cool_flask(plan))
        yield turn.out, MomentKind.OUT, f"{names.flask} out of the kiln: about {about} at its pour."
    yield turn.pour, MomentKind.POUR, f"Pour{names.which}{flask.heats.say_pour()}."
    wait = print_minutes(flask.waiting(plan.practice).quenched_after(plan.practice.bench))
    quench = f"not before {wait} after the pour. Stand back: it steams."
    yield turn.quench, MomentKind.QUENCH, f"Quench{names.which}, {quench}"


def _say_when(plan: DayPlan, turn: Turn, total: int) -> str:
    """ "20 min before the pour"; by the kiln where the studio goes by that; and what the melter is set to."""
    laid = lay_out(plan.steps, plan.kiln.room_c)
    passes, goes_in = _find_passing(plan, laid, total), max(0, total + turn.metal_in)
    whose = "its" if turn.pour else "the"
    when = f"{print_minutes(total + turn.pour - goes_in)} before {whose} pour"
    if passes is not None and goes_in == passes:
        when = f"as the kiln passes {print_celsius(plan.practice.crucible_c)} on its way down"
    if turn.changes_crucible:
        when += ", in another crucible than before"
    flask = plan.flasks[turn.place]
    point = compute_melter_set_point(flask.heats, plan.practice.slow, flask.alloy)
    return when if point is None else f"{when}; melter at {print_celsius(point.set_c)}"


def _flask_ready(laid: Sequence[Stretch], total: int, pour_c: int) -> tuple[int, str]:
    """The minute the flasks reach the temperature of the pour."""
    last = next((stretch for stretch in reversed(laid) if not stretch.is_hold), None)
    if last is None:
        return total, f"The flasks are at {print_celsius(pour_c)}."
    way = "down" if last.to_c < last.from_c else "up"
    return last.end_minute, f"The flasks are {way} to {print_celsius(pour_c)}."


def find_crucible_minute(laid: Sequence[Stretch], crucible_c: int) -> int | None:
    """The minute a cooling kiln last passes a temperature; None where it does not, or nobody can know when.

    A fall whose pace is only guessed gives no minute, and one that is followed by heat above it again is not the last.
    """
    for stretch in reversed(laid):
        if stretch.from_c > stretch.to_c and stretch.from_c >= crucible_c >= stretch.to_c:
            if stretch.paced and stretch.paced[1] == GUESSED:
                return None
            return stretch.pass_minute(crucible_c)
        if max(stretch.from_c, stretch.to_c) > crucible_c:
            return None
    return None
