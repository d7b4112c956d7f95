"""How much clean reclaim the next charge may take, and which rule stops it there.

Masses are milligrams, the least fresh share is hundredths of a per cent, melts are thousandths.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import floor

from studio.kit.printing import print_decimal, print_mass, print_melts, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .charge import ChargeRules

_MILLI_PER_TENTH = 100


class Bound(StrEnum):
    """What keeps more reclaim out of the next charge."""

    ON_HAND = "all clean reclaim on hand may go in"
    MELTS = "the rest has been melted as often as it may be"
    CHARGE = "a usual charge needs its share of fresh metal"
    FRESH = "there is only so much fresh metal on hand"
    MEAN = "with more of it the charge would have been melted too often"
    MARK = "with more of it the charge would fall short of its mark"

    @property
    def sentence(self) -> str:
        return self.value.capitalize() + "."


@dataclass(frozen=True, slots=True)
class MetalLot:
    """A lot of one alloy. Fresh metal was never melted here; clean reclaim is what may be melted again as it is.

    `promised_mg` of it are held by plans.
    """

    key: int
    label: str
    mass_mg: int
    melts_milli: int = 0
    is_fresh: bool = False
    is_clean: bool = True
    promised_mg: int = 0

    def weighable_mg(self, step_mg: int) -> int:
        """What of it can be weighed into a charge: what no plan holds, in whole steps of the scale."""
        free_mg = max(self.mass_mg - self.promised_mg, 0)
        return free_mg - free_mg % step_mg


@dataclass(frozen=True, slots=True)
class ReclaimAllowance:
    """Clean reclaim on hand, what of it may be melted again, and what the next charge may take.

    `charge_mg` is the size of charge that was reckoned with, None when no charge was poured yet. `left_out`
    are the keys of lots at the limit of melts, `tired_mg` what they hold. `fresh_mg` is what there is of fresh metal,
    and `fresh_needed_mg` what a usual charge asks for.
    """

    on_hand_mg: int
    usable_mg: int
    may_take_mg: int
    bound: Bound
    charge_mg: int | None
    left_out: tuple[int, ...]
    tired_mg: int
    fresh_mg: int
    fresh_needed_mg: int
    working: Working

    @property
    def is_short(self) -> bool:
        """Whether there is less fresh metal than a usual charge must have, and reclaim that could stand in for it."""
        return self.fresh_mg < self.fresh_needed_mg and self.may_take_mg < self.usable_mg


@dataclass(frozen=True, slots=True)
class _Limit:
    """One rule's most reclaim, exact, with the steps that reach it."""

    bound: Bound
    most_mg: Fraction
    steps: tuple[Step, ...]


def compute_reclaim_allowance(
    lots: Sequence[MetalLot], rules: ChargeRules, recent_charges_mg: Sequence[int], step_mg: int = 1
) -> ReclaimAllowance:
    """What the next charge of one alloy may take of its clean reclaim, by the rules that a proposed charge keeps.

    A lot at the limit of melts or over it is left out: the pour would take it beyond. The charge is the
    mean of recent ones; with none, only the fresh metal on hand sets a limit. Lots, charge and what a rule allows are
    whole steps of the scale, `step_mg`, as the portions of a proposed charge are.
    """
    clean = [lot for lot in lots if lot.is_clean and not lot.is_fresh]
    tired = [lot for lot in clean if rules.is_tired(lot.melts_milli)]
    usable = sorted(
        (replace(lot, mass_mg=lot.weighable_mg(step_mg)) for lot in clean if lot not in tired), key=_melts
    )
    on_hand_mg, untired_mg = (
        sum(lot.mass_mg for lot in clean),
        sum(lot.mass_mg for lot in clean if lot not in tired),
    )
    usable_mg = sum(lot.mass_mg for lot in usable)
    fresh_mg = sum(lot.weighable_mg(step_mg) for lot in lots if lot.is_fresh)
    charge_mg = None
    if recent_charges_mg:
        charge_mg = step_mg * round_half_up(
            Fraction(sum(recent_charges_mg), len(recent_charges_mg) * step_mg)
        )
    limits = _list_limits(usable, rules, charge_mg, fresh_mg)
    least = min(limits, key=lambda limit: limit.most_mg, default=None)
    may_take_mg, bound = usable_mg, Bound.MELTS if tired else Bound.ON_HAND
    if least and floor(least.most_mg) < usable_mg:
        may_take_mg, bound = floor(least.most_mg), least.bound
    steps = [Step("clean reclaim on hand", print_mass(on_hand_mg))]
    if tired:
        steps.append(Step("of it not melted too often", print_mass(untired_mg)))
    if usable_mg < untired_mg:
        words = f"of it held by no plan, in whole steps of the scale, {print_mass(step_mg)} each"
        steps.append(Step(words, print_mass(usable_mg)))
    steps += [step for limit in limits for step in limit.steps]
    steps.append(Step("the least of these", print_mass(may_take_mg)))
    if may_take_mg < usable_mg and may_take_mg % step_mg:
        may_take_mg -= may_take_mg % step_mg
        steps.append(
            Step(f"in whole steps of the scale, {print_mass(step_mg)} each", print_mass(may_take_mg))
        )
    working = _work_allowance(lots, rules, charge_mg, len(recent_charges_mg), steps, bound)
    return ReclaimAllowance(
        on_hand_mg,
        usable_mg,
        may_take_mg,
        bound,
        charge_mg,
        left_out=tuple(lot.key for lot in tired),
        tired_mg=sum(lot.mass_mg for lot in tired),
        fresh_mg=fresh_mg,
        fresh_needed_mg=rules.compute_fresh_needed_mg(charge_mg or 0),
        working=working,
    )


def _melts(lot: MetalLot) -> tuple[int, int]:
    return lot.melts_milli, lot.key


def _list_limits(
    usable: Sequence[MetalLot], rules: ChargeRules, charge_mg: int | None, fresh_mg: int
) -> list[_Limit]:
    """What each rule allows in a usual charge, and beside the fresh metal on hand."""
    limits = []
    least_pct100, mean_milli = rules.least_fresh_pct100, rules.most_mean_melts_milli
    rest = print_percent(PCT100_WHOLE - least_pct100)
    if charge_mg is not None:
        most_mg = Fraction(charge_mg - rules.compute_fresh_needed_mg(charge_mg))
        text = f"in a usual charge: {rest} of {print_mass(charge_mg)}"
        limits.append(_Limit(Bound.CHARGE, most_mg, (Step(text, print_mass(floor(most_mg))),)))
    if least_pct100:
        most_mg = Fraction(fresh_mg * (PCT100_WHOLE - least_pct100), least_pct100)
        text = f"beside the fresh metal: {print_mass(fresh_mg)} × {rest} ÷ {print_percent(least_pct100)}"
        limits.append(_Limit(Bound.FRESH, most_mg, (Step(text, print_mass(floor(most_mg))),)))
    if rules.most_melts_milli:
        if charge_mg is not None:
            limits += _limit_melts(usable, mean_milli, charge_mg, "in a usual charge", 0)
        limits += _limit_melts(usable, mean_milli, fresh_mg, "beside the fresh metal", mean_milli)
    return limits


def _limit_melts(
    usable: Sequence[MetalLot], mean_milli: int, mass_mg: int, where: str, own_milli: int
) -> list[_Limit]:
    """The most reclaim, least melted first, with which a charge keeps the mean; [] where all of it does.

    Of its own melts each gram of reclaim brings `own_milli` of room with it: none where the whole charge is given.
    """
    room = mean_milli * mass_mg
    taken_mg = used = 0
    for lot in usable:
        over_milli = lot.melts_milli - own_milli
        if used + over_milli * lot.mass_mg > room:
            part_mg = Fraction(room - used, over_milli)
            before = print_melts(mean_milli, 3)
            steps = [
                Step(
                    f"grams times melts {where}, at a mean of {before} before the pour: "
                    f"{print_mass(mass_mg)} × {before}",
                    _number(room),
                )
            ]
            if taken_mg:
                beyond = f", beyond {before} each" if own_milli else ""
                steps.append(
                    Step(f"of it in the {print_mass(taken_mg)} that had fewest{beyond}", _number(used))
                )
            had = print_melts(lot.melts_milli, 3)
            divided = f"({had} − {before})" if own_milli else had
            steps.append(Step(f"{_number(room - used)} ÷ {divided}", print_mass(floor(part_mg))))
            if taken_mg:
                both = f"{print_mass(taken_mg)} + {print_mass(floor(part_mg))}"
                steps.append(Step(both, print_mass(taken_mg + floor(part_mg))))
            return [_Limit(Bound.MEAN, taken_mg + part_mg, tuple(steps))]
        taken_mg, used = taken_mg + lot.mass_mg, used + over_milli * lot.mass_mg
    return []


def _number(milligrams_times_milli: int) -> str:
    return print_decimal(milligrams_times_milli, 6, most=6)


def _work_allowance(
    lots: Sequence[MetalLot],
    rules: ChargeRules,
    charge_mg: int | None,
    charges: int,
    steps: list[Step],
    bound: Bound,
) -> Working:
    givens = _give_lots([lot for lot in lots if lot.is_fresh or lot.is_clean], rules)
    givens += rules.givens
    if charge_mg is not None:
        mean_of = "the last charge" if charges == 1 else f"the mean of the last {charges} charges"
        givens.append(Given("a usual charge", print_mass(charge_mg), mean_of))
    notes = [bound.sentence]
    if charge_mg is None:
        notes.append("No charge was poured yet, so only the metal on hand sets a limit.")
    if any(not lot.is_clean for lot in lots):
        notes.append(
            "What may not be melted as it is, by your setting, is not counted: it is cleaned or refined."
        )
    return make_working(
        "Reclaim for the next charge",
        "clean reclaim that may be melted again, least melted first, but no more than leaves the least fresh "
        "share and keeps the whole charge below the limit of melts; rounded down",
        *givens,
        *steps,
        notes=tuple(notes),
    )


def _give_lots(lots: Sequence[MetalLot], rules: ChargeRules) -> list[Given]:
    """The lots, those alike to a tenth of a melt together, so that a full tin stays readable."""
    alike: dict[tuple[object, ...], list[MetalLot]] = {}
    for lot in lots:
        state = (
            lot.label,
            lot.is_fresh,
            rules.is_tired(lot.melts_milli),
            lot.melts_milli // _MILLI_PER_TENTH,
        )
        alike.setdefault(state, []).append(lot)
    givens = []
    for members in alike.values():
        first, mass_mg = members[0], sum(lot.mass_mg for lot in members)
        which = f"lot {first.key}" if len(members) == 1 else f"{len(members)} lots"
        mean_milli = sum(lot.mass_mg * lot.melts_milli for lot in members) // mass_mg if mass_mg else 0
        state_of = "fresh" if first.is_fresh else print_melts(mean_milli, 3)
        givens.append(Given(f"{first.label}, {which}", f"{print_mass(mass_mg)}, {state_of}", "the stock"))
    return givens
