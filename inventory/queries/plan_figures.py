"""Everything a plan works out: metal, powder, charge, timetable, and whether it is all here.

One function reads what is needed and lets the core add it up; the page while it is typed, the saving of a plan,
its own page and its run sheet all show the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.core.charge_shelf import ChargeWanted, ShelfLot
from inventory.core.investing import compute_phases
from inventory.core.metal import ITS_OWN_PAGE, PatternPart, compute_metal_needed
from inventory.core.mixing import BowlMix, MixTurn, compute_bowls, list_turns, tell_bowls
from inventory.core.picking import Need, Suggestion, check_need, is_usable, suggest_first_to_expire
from inventory.core.powder import (
    ITS_PAGE,
    POWDER_STEP_MG,
    FlaskToFill,
    Mix,
    Slurry,
    check_flasks,
    compute_flask_inside,
    compute_mix,
    compute_slurry,
    compute_slurry_by_parts,
)
from inventory.core.proposing import Proposal, propose_charge
from inventory.core.timetable import Timetable
from inventory.core.tree import Fit, PastLoss, check_fit, compute_metal_to_charge
from inventory.models import DayPractice, Lot, Material, Plan, Studio
from studio.kit.units import PCT100_PER_PERCENT, divide_half_up
from studio.kit.working import Source, Working

from .casting import past_loss
from .plans import PlanDraft
from .pours import flask_pour, melter_powers
from .shelf import as_on_hand, promised, shelf_for, stock_lots
from .studio import charge_rules, current_practice, split_for, work_timetable

PCT100_PER_TENTH = PCT100_PER_PERCENT // 10
USUAL_WATER_TENTHS = 400
"""40 of water for 100 of powder, where the maker's sheet is not known (common practice)."""


@dataclass(frozen=True)
class Metal:
    """What the tree needs, what is to be charged for it, and where it does not fit."""

    tree_mg: int
    needed_mg: int
    charge_mg: int
    loss_mg: int
    needed_working: Working
    charge_working: Working
    misfits: tuple[str, ...]

    @property
    def button_mg(self) -> int:
        return self.needed_mg - self.tree_mg


@dataclass(frozen=True)
class Powder:
    """What goes in the bowl for this flask, from which lots, and what is wrong with it."""

    mix: Mix
    flask_working: Working
    suggestion: Suggestion
    problems: tuple[str, ...]
    bowls: "Bowls"


@dataclass(frozen=True)
class Bowls:
    """One mix of a powder, put into bowls: what each fills, what the day says of them, and what is to be said."""

    mixes: tuple[BowlMix, ...]
    working: Working
    turns: tuple[MixTurn, ...]
    too_much: str

    @property
    def are_several(self) -> bool:
        return len(self.mixes) > 1


@dataclass(frozen=True)
class Worked:
    """All that a plan works out. `lots` has every lot that is named in it, by key."""

    draft: PlanDraft
    practice: DayPractice
    metal: Metal
    powder: Powder
    shelf: tuple[ShelfLot, ...]
    wanted: ChargeWanted
    proposal: Proposal
    patterns: tuple[tuple[Material, Suggestion], ...]
    #: None for a schedule without a step.
    timetable: Timetable | None
    needs: tuple[Need, ...]
    lots: dict[int, Lot]


def work_out(draft: PlanDraft, studio: Studio, but: Plan | None = None) -> Worked:
    """Work out a plan from what is on the shelf now; `but` is the plan itself, whose own hold does not count."""
    practice, taken = current_practice(), promised(but)
    metal = work_metal(draft, practice, studio)
    shelf = shelf_for(draft.alloy, draft.owner, taken, studio)
    wanted = ChargeWanted(
        metal.charge_mg,
        charge_rules(draft.alloy.kept_fineness, studio),
        owner=draft.owner.pk if draft.owner else None,
        metal=draft.alloy.get_metal_display(),
        smallest_mg=practice.smallest_portion_mg,
        step_mg=studio.scale_division_mg,
    )
    proposal = propose_charge(shelf, wanted)
    lots = stock_lots({draft.powder, *(part.material for part in draft.parts)})
    today = timezone.localdate(draft.day.wish_at)
    powder = _work_powder(draft, practice, _of(lots, draft.powder), taken, today)
    patterns = tuple(
        (
            material,
            suggest_first_to_expire(as_on_hand(_of(lots, material), taken), mass_mg, today, material.unit),
        )
        for material, mass_mg in pattern_masses(draft)
    )
    return Worked(
        draft=draft,
        practice=practice,
        metal=metal,
        powder=powder,
        shelf=tuple(shelf),
        wanted=wanted,
        proposal=proposal,
        patterns=patterns,
        timetable=_work_day(draft, practice, metal, powder.bowls),
        needs=_list_needs(draft, metal, powder, shelf, lots, taken, today),
        lots={lot.pk: lot for lot in lots},
    )


def pattern_parts(draft: PlanDraft) -> list[PatternPart]:
    return [
        PatternPart(part.label, part.mass_mg, part.material.density_mg_cm3 or 0, origin="weighed")
        for part in draft.parts
    ]


def work_metal(
    draft: PlanDraft, practice: DayPractice, studio: Studio, past: PastLoss | None = None
) -> Metal:
    """`past` is what the alloy's last casts lost, where it was read already."""
    parts, density = pattern_parts(draft), draft.alloy.density_mg_cm3
    tree_mg, _ = compute_metal_needed(parts, density)
    needed_mg, needed_working = compute_metal_needed(
        parts, density, draft.button_pct100, metal_origin=draft.alloy.density_note or ITS_OWN_PAGE
    )
    charge_mg, loss_mg, charge_working = compute_metal_to_charge(
        needed_mg, past or past_loss(draft.alloy), studio.scale_division_mg
    )
    fit = Fit(
        metal_mg=charge_mg,
        button_mg=needed_mg - tree_mg,
        least_button_mg=practice.button_least_mg,
        capacity_mg=draft.crucible.capacity_mg if draft.crucible else None,
        flask_diameter_um=draft.flask.diameter_um,
        flask_height_um=draft.flask.height_um,
        tree_height_um=draft.tree_height_um,
        tree_width_um=draft.tree_width_um,
        wall_um=practice.wall_clearance_um,
        top_um=practice.top_clearance_um,
    )
    return Metal(tree_mg, needed_mg, charge_mg, loss_mg, needed_working, charge_working, check_fit(fit))


def slurry_of(powder: Material) -> Slurry:
    """A powder mixed by its sheet; what the sheet does not say is worked out from a usual powder's parts."""
    tenths, origin = powder.water_per_100_tenths, ITS_PAGE
    if tenths is None:
        tenths, origin = USUAL_WATER_TENTHS, Source.COMMON_PRACTICE
    water_pct100 = tenths * PCT100_PER_TENTH
    if powder.slurry_mg_cm3:
        return compute_slurry(powder.slurry_mg_cm3, water_pct100, origin)
    return compute_slurry_by_parts(water_pct100, origin)


def flask_to_fill(draft: PlanDraft) -> tuple[FlaskToFill, Working]:
    volume_ul, working = compute_flask_inside(draft.flask.diameter_um or 0, draft.flask.height_um or 0)
    space_ul = sum(part.space_ul for part in pattern_parts(draft))
    return FlaskToFill(
        draft.flask.name,
        volume_ul,
        divide_half_up(space_ul.numerator, space_ul.denominator) if space_ul else 0,
    ), working


def mix_for(draft: PlanDraft, practice: DayPractice) -> Mix:
    """What goes in the bowl for a flask."""
    flask, _ = flask_to_fill(draft)
    return compute_mix([flask], slurry_of(draft.powder), practice.over_mix_pct100, POWDER_STEP_MG)


def _work_powder(
    draft: PlanDraft, practice: DayPractice, lots: Sequence[Lot], taken: dict[int, int], today: date
) -> Powder:
    flask, flask_working = flask_to_fill(draft)
    mix = mix_for(draft, practice)
    return Powder(
        mix=mix,
        flask_working=flask_working,
        suggestion=suggest_first_to_expire(as_on_hand(lots, taken), mix.powder_mg, today),
        problems=check_flasks([flask]),
        bowls=put_in_bowls(mix, draft.powder, practice, [draft.title]),
    )


def put_in_bowls(mix: Mix, powder: Material, practice: DayPractice, labels: Sequence[str]) -> Bowls:
    """A mix in the bowls that the studio has, in turn; `labels` names its flasks."""
    split, most_mg = split_for(practice, powder), practice.bowl_powder_mg
    mixes, working = compute_bowls(mix.shares_mg, mix.water_mg, most_mg, POWDER_STEP_MG, labels)
    turns = list_turns(mixes, compute_phases(split), labels)
    return Bowls(mixes, working, tuple(turns), tell_bowls(mixes, most_mg, split.total_s, labels))


def _work_day(draft: PlanDraft, practice: DayPractice, metal: Metal, bowls: Bowls) -> Timetable | None:
    """The day of a flask that is alone in its firing."""
    if not draft.day.schedule.steps.all():
        return None
    pour = flask_pour(draft, metal.charge_mg, melter_powers([draft.machine]), practice)
    return work_timetable(draft.day, draft.powder, practice, timezone.now(), [pour], bowls.turns)


def _of(lots: Sequence[Lot], material: Material) -> list[Lot]:
    return [lot for lot in lots if lot.material_id == material.pk]


def pattern_masses(draft: PlanDraft) -> list[tuple[Material, int]]:
    masses: dict[Material, int] = {}
    for part in draft.parts:
        masses[part.material] = masses.get(part.material, 0) + part.mass_mg
    return list(masses.items())


def _list_needs(
    draft: PlanDraft,
    metal: Metal,
    powder: Powder,
    shelf: Sequence[ShelfLot],
    lots: Sequence[Lot],
    taken: dict[int, int],
    today: date,
) -> tuple[Need, ...]:
    """What the plan needs against what is here and not promised: its alloy, powder and pattern material.

    Metal that is only there to be alloyed with is none of the alloy.
    """
    own = [lot for lot in shelf if lot.is_same]
    needs = [
        check_need(
            str(draft.alloy),
            metal.charge_mg,
            sum(lot.held.quantity for lot in own),
            sum(lot.usable_mg for lot in own),
        )
    ]
    for material, wanted in [(draft.powder, powder.mix.powder_mg), *pattern_masses(draft)]:
        of = [lot for lot in _of(lots, material) if is_usable(lot, today)]
        held = sum(lot.holder.quantity for lot in of)
        free = sum(one.quantity for one in as_on_hand(of, taken))
        needs.append(check_need(str(material), wanted, held, free))
    return tuple(needs)
