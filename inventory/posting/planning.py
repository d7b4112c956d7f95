"""Writing of plans: saving, holding, dropping, beginning the cast, and what was done when.

A plan moves no stock, so nothing here opens the book but the beginning of its cast.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.core.ledger import draw
from inventory.models import Cast, CastingDay, CastMoment, Equipment, Lot, Plan, PlanPart, PlanPortion
from inventory.queries.ledger import name_lot
from inventory.queries.occupied import say_twice
from inventory.queries.plan_figures import Worked
from inventory.queries.plans import DayDraft
from inventory.queries.shelf import promised
from studio.kit.printing import print_quantity

from .book import balance_of
from .casting import CastFacts, post_start
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .setup import renew_days

Use = PlanPortion.Use
Chosen = Mapping[int, int]


def save_plan(
    worked: Worked, charge: Chosen | None = None, plan: Plan | None = None, day: CastingDay | None = None
) -> Plan:
    """Keep a plan with the figures it was worked out with; a `plan` that is given is written anew.

    `charge` is milligrams by lot where the person changed what was proposed. `day` puts the flask into a firing
    that is planned already. Raises Refused for a plan that was begun or dropped, for a day that was fired,
    and for a flask that stands in that firing already.
    """
    draft = worked.draft
    with studio_locked():
        if plan is not None:
            plan = _lock_open(plan)
        is_other = plan is None or _shapes_day(plan) != _will_shape_day(worked)
        day = _write_day(draft.day, plan.day if plan is not None else day, is_other)
        _refuse_flask_twice(day, draft.flask, plan)
        plan = plan or Plan(made_at=timezone.now())
        plan.day = day
        _set_facts(plan, worked)
        plan.save()
        plan.parts.all().delete()
        PlanPart.objects.bulk_create(
            PlanPart(
                plan=plan,
                place=place,
                label=part.label,
                material=part.material,
                mass_mg=part.mass_mg,
                count=part.count,
                is_piece=part.is_piece,
                design=part.design,
            )
            for place, part in enumerate(draft.parts)
        )
        _write_portions(plan, _chosen(worked, charge))
    return plan


def change_charge(plan: Plan, charge: Chosen) -> None:
    """Put other portions in the planned charge: milligrams by lot. Raises Refused for what a lot does not hold."""
    with studio_locked():
        plan = _lock_open(plan)
        others = plan.portions.exclude(use=Use.METAL).values_list("use", "lot_id", "quantity")
        _write_portions(plan, [*((Use.METAL, lot, mass) for lot, mass in charge.items() if mass), *others])


def set_hold(plan: Plan, holds: bool) -> None:
    """Promise a plan's stock to it, or let it go. Raises Refused where others hold it meanwhile."""
    with studio_locked():
        plan = _lock_open(plan)
        plan.holds = holds
        if holds:
            portions = plan.portions.select_related("lot__holder", "lot__material")
            _refuse_what_is_not_there(plan, [(one.lot, one.quantity) for one in portions])
        plan.save(update_fields=["holds"])


def drop_plan(plan: Plan) -> None:
    """Give a plan up: it holds nothing any more and stays to be read."""
    with studio_locked():
        plan = _lock_open(plan)
        plan.dropped, plan.holds = True, False
        plan.save(update_fields=["dropped", "holds"])
        renew_days(CastingDay.objects.filter(pk=plan.day_id))


def take_up_plan(plan: Plan) -> None:
    """Make a plan that was given up an open one again. It holds nothing: others may count on its stock meanwhile."""
    with studio_locked():
        plan = Plan.objects.get(pk=plan.pk)
        if not plan.dropped:
            raise Refused("This plan was not given up.")
        _refuse_flask_twice(plan.day, plan.flask, plan)
        plan.dropped = False
        plan.save(update_fields=["dropped"])
        renew_days(CastingDay.objects.filter(pk=plan.day_id))


def _refuse_flask_twice(day: CastingDay, flask: Equipment, plan: Plan | None) -> None:
    for other in day.plans.filter(dropped=False, flask=flask).select_related("flask"):
        if other != plan:
            raise Refused(say_twice(other), "flask")


def post_begin(plan: Plan, by: User | None = None) -> Cast:
    """Begin the cast of a plan. What it holds stays promised until the cast has used it."""
    with studio_locked():
        plan = _lock_open(plan)
        cast = post_start(
            CastFacts(
                title=plan.title,
                day=min(timezone.localdate(plan.day.wish_at), timezone.localdate()),
                alloy=plan.alloy,
                owner=plan.owner,
                flask=plan.flask,
                crucible=plan.crucible,
                machine=plan.machine,
                pump=plan.pump,
                note=plan.note,
            ),
            by,
        )
        plan.cast = cast
        plan.save(update_fields=["cast"])
    return cast


def note_moment(
    cast: Cast, kind: str, text: str = "", by: User | None = None, at: datetime | None = None
) -> CastMoment:
    """Write down that something was done for a cast, by the server's clock. The first press counts."""
    moment, _ = CastMoment.objects.get_or_create(
        cast=cast, kind=kind, text=text, defaults={"at": at or timezone.now(), "by": by}
    )
    return moment


def take_back_moment(cast: Cast, kind: str, text: str = "") -> None:
    """Take out what was pressed by mistake."""
    CastMoment.objects.filter(cast=cast, kind=kind, text=text).delete()


def _lock_open(plan: Plan) -> Plan:
    locked = Plan.objects.select_related("day").get(pk=plan.pk)
    if locked.cast_id is not None:
        raise Refused("This plan was begun: its cast has a page of its own.")
    if locked.dropped:
        raise Refused("This plan was given up. Take it up again first.")
    return locked


def _write_day(draft: DayDraft, day: CastingDay | None, is_other: bool) -> CastingDay:
    """A new casting day, or the day that is there with its times as they are now wished.

    `is_other` when what it says of its flasks changes.
    """
    wanted = {
        "kiln": draft.kiln,
        "schedule": draft.schedule,
        "wish": draft.wish,
        "wish_at": draft.wish_at,
        "standing_minutes": draft.standing_minutes,
    }
    if day is None:
        return CastingDay.objects.create(**wanted)
    bring_up_to_date([day])
    if closed := why_closed(day):
        raise Refused(closed)
    changed = [name for name, value in wanted.items() if getattr(day, name) != value]
    for name in changed:
        setattr(day, name, wanted[name])
    if changed or is_other:
        # Calendars that took the day in already know by this that its lines are others.
        day.revision += 1
        day.save(update_fields=[*changed, "revision"])
    return day


def why_closed(day: CastingDay) -> str:
    """Why no flask of a day is planned any more, "" where it may be."""
    if day.firing_id is None:
        return ""
    if day.is_fired:
        return "This kiln session has been recorded: plan the flask for another day."
    return f"{day.kiln} is on: what stands in it stays as it was planned. Plan another flask for another day."


def _shapes_day(plan: Plan) -> tuple[object, ...]:
    """What the lines of its day follow from, beside the day itself."""
    things = (plan.title, plan.alloy_id, plan.crucible_id, plan.machine_id)
    return (*things, plan.metal_mg, plan.powder_mg)


def _will_shape_day(worked: Worked) -> tuple[object, ...]:
    draft = worked.draft
    crucible, machine = (one.pk if one else None for one in (draft.crucible, draft.machine))
    things = (draft.title, draft.alloy.pk, crucible, machine)
    return (*things, worked.metal.charge_mg, worked.powder.mix.powder_mg)


def _set_facts(plan: Plan, worked: Worked) -> None:
    draft = worked.draft
    for name in (
        "title",
        "alloy",
        "owner",
        "flask",
        "crucible",
        "machine",
        "pump",
        "powder",
        "tree_height_um",
        "tree_width_um",
        "button_pct100",
        "note",
    ):
        setattr(plan, name, getattr(draft, name))
    plan.metal_mg, plan.expected_loss_mg = worked.metal.charge_mg, worked.metal.loss_mg
    plan.powder_mg, plan.water_mg = worked.powder.mix.powder_mg, worked.powder.mix.water_mg


def _chosen(worked: Worked, charge: Chosen | None) -> list[tuple[str, int, int]]:
    """(use, lot, quantity) of all that the plan means to take."""
    if charge is None:
        charge = {line.key: line.mass_mg for line in worked.proposal.lines}
    takes: list[tuple[str, int, int]] = [
        (Use.METAL, lot, mass_mg) for lot, mass_mg in charge.items() if mass_mg
    ]
    takes += [(Use.POWDER, lot, mass_mg) for lot, mass_mg in worked.powder.suggestion.takes]
    for _, suggestion in worked.patterns:
        takes += [(Use.PATTERN, lot, mass_mg) for lot, mass_mg in suggestion.takes]
    return takes


def _refuse_what_is_not_there(plan: Plan, takes: Iterable[tuple[Lot, int]]) -> None:
    """Refuse more than a lot holds and, for a plan that holds its stock, more than other plans leave of it."""
    taken = promised(but=plan) if plan.holds else {}
    for lot, quantity in takes:
        if quantity > lot.holder.quantity:
            raise Refused(f"{name_lot(lot)} does not hold that much. Write less, or take another.", "charge")
        free = lot.holder.quantity - taken.get(lot.pk, 0)
        if quantity > free:
            left = print_quantity(max(free, 0), lot.material.unit)
            raise Refused(
                f"{name_lot(lot)}: {left} is free; other plans hold the rest. Have the plan worked out anew.",
                "charge",
            )


def _write_portions(plan: Plan, takes: Iterable[tuple[str, int, int]]) -> None:
    """Keep what is to be taken, each at what that much of its lot costs today."""
    takes = list(takes)
    lots = Lot.objects.select_related("holder", "material").in_bulk([lot for _, lot, _ in takes])
    _refuse_what_is_not_there(plan, [(lots[key], quantity) for _, key, quantity in takes])
    rows = []
    for use, key, quantity in takes:
        cost_micro = draw(balance_of(lots[key].holder), quantity).cost_micro
        rows.append(PlanPortion(plan=plan, lot_id=key, use=use, quantity=quantity, cost_micro=cost_micro))
    plan.portions.all().delete()
    PlanPortion.objects.bulk_create(rows)
