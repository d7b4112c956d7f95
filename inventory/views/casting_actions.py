"""The steps of a cast and what can be written on it besides: each with its words, its form and what saving it does."""

from typing import Any

from django.contrib.auth.models import User
from django.urls import reverse

from inventory.core.casting import STEP_TASKS
from inventory.forms import casting_steps as forms
from inventory.forms.casting_record import water_for, weights_of
from inventory.forms.pieces import finish_sheet
from inventory.forms.sheet import Sheet
from inventory.models import Cast
from inventory.posting.casting import (
    post_charge,
    post_close,
    post_found,
    post_powder,
    post_tree,
    record_pour,
)
from inventory.posting.casting_records import assign_firing, mend_cast, record_time, record_tray
from inventory.posting.pieces import post_finish_together
from inventory.posting.refusal import Refused
from inventory.posting.stock import post_use
from inventory.posting.unpoured import post_unpoured, remove_begun, take_up_again, used_nothing
from inventory.queries.casting_page import CastPage, find_cast, read_cast_page
from inventory.queries.studio import current_studio
from studio.kit.views import or_404

from .saving import Actions


def find_or_404(number: int) -> Cast:
    return or_404(find_cast(number), "There is no cast of this number.")


def _closed(page: CastPage) -> str:
    if not page.cast.is_closed:
        return ""
    return f"Cast {page.cast.number} is closed. Mend its weights, or take them back first, if they are wrong."


CAST_ACTIONS: Actions[CastPage] = Actions(
    lambda number: read_cast_page(find_or_404(number), current_studio()),
    lambda page: reverse("inventory:cast-detail", args=[page.cast.number]),
)


def _step(step: str, button: str, said: str, noun: str, **more: Any) -> Any:
    return CAST_ACTIONS.add(step, STEP_TASKS[step].capitalize(), button, said, noun=noun, **more)


def _form(form_class: type[Any]) -> Any:
    return lambda page, data=None: Sheet(form_class(data))


@_step("tree", "Save the tree", "The tree is written down.", "Tree", make=forms.tree_sheet)
def _save_tree(page: CastPage, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    post_tree(page.cast, sheet.rows["tree"].records_without(found["base"]), found["day"], by)


@_step(
    "powder",
    "Save the mould",
    "The mould is written down.",
    "Mould",
    cautions=("powder",),
    make=forms.powder_sheet,
)
def _save_powder(page: CastPage, sheet: Sheet, by: User) -> None:
    portions, found = sheet.rows["powder"].portions(), sheet.form.cleaned_data
    water_mg = water_for(portions) if found["water"] is None else found["water"]
    before_mg = page.cast.water_mg if page.powder else None
    if before_mg is not None:
        # A second bowl of powder adds its water to that of the first.
        water_mg = before_mg + (water_mg or 0)
    post_powder(page.cast, portions, water_mg, found["day"], by)


@_step(
    "firing",
    "Save the firing",
    "The firing is written down.",
    "Firing",
    cautions=("burnout",),
    make=lambda page, data=None: Sheet(forms.FiringForm(data, cast=page.cast)),
)
def _save_firing(page: CastPage, sheet: Sheet, by: User) -> None:
    choice = sheet.form.firing_choice(page.cast.day)
    if choice is None:
        raise Refused("Choose the firing, or describe a new one.", "firing")
    assign_firing(page.cast, choice)


@_step(
    "charge",
    "Save the charge",
    "The charge is written down.",
    "Charge",
    make=forms.charge_sheet,
    why_not=_closed,
)
def _save_charge(page: CastPage, sheet: Sheet, by: User) -> None:
    day = sheet.form.cleaned_data["day"]
    post_charge(page.cast, sheet.rows["charge"].portions(), day, by)
    # A cast was begun on one day and is poured on another: its day is that of the pour.
    if day > page.cast.day:
        mend_cast(page.cast, {"day": day})


@_step(
    "pour",
    "It is poured",
    "The pour is written down.",
    "Pour",
    cautions=("pour", "quench"),
    make=forms.pour_sheet,
    why_not=_closed,
)
def _save_pour(page: CastPage, sheet: Sheet, by: User) -> None:
    record_pour(page.cast, sheet.form.pour_notes())


@_step(
    "weights",
    "Close the cast",
    "The cast is closed.",
    "Weights",
    cautions=("quench",),
    make=forms.weights_sheet,
    why_not=_closed,
)
def _save_weights(page: CastPage, sheet: Sheet, by: User) -> None:
    materials = {part.material for part in page.tree}
    pattern = materials.pop() if len(materials) == 1 else None
    found = sheet.form.cleaned_data
    post_close(page.cast, weights_of(found, sheet.rows["pieces"].groups(pattern)), found["day"], by)
    if found["spent"]:
        record_time(page.cast, found["day"], found["spent"], task=found["task"])


@CAST_ACTIONS.add(
    "found",
    "Metal found later",
    "Save what was found",
    "What was found is in stock.",
    make=_form(forms.FoundForm),
)
def _save_found(page: CastPage, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    post_found(page.cast, found["mass"], found["origin"], found["day"], found["note"], by)


@CAST_ACTIONS.add(
    "time", "Time at the bench", "Save the time", "The time is written down.", make=forms.time_sheet
)
def _save_time(page: CastPage, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    tray = found.get("pieces")
    if tray:
        record_tray(tray, found["day"], found["minutes"], found["task"], found["what"], found["basis"])
    else:
        record_time(page.cast, found["day"], found["minutes"], found["what"], task=found["task"])


@CAST_ACTIONS.add(
    "use",
    "Taken from stock for this cast",
    "Take it",
    "It is taken from stock.",
    make=lambda page, data=None: forms.use_sheet(data),
)
def _save_use(page: CastPage, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    post_use(found["lot"], found["quantity"], found["day"], cast=page.cast, note=found["note"], by=by)


@CAST_ACTIONS.add(
    "unpoured",
    "End it without a pour",
    "End the cast",
    "The cast is ended. Its metal is back in its lots; wax, powder and kiln hours that it took stay used.",
    make=_form(forms.UnpouredForm),
    why_not=_closed,
)
def _save_unpoured(page: CastPage, sheet: Sheet, by: User) -> None:
    found = sheet.form.cleaned_data
    post_unpoured(page.cast, found["day"], found["note"], by)


def _not_unpoured(page: CastPage) -> str:
    return "" if page.is_unpoured else f"Cast {page.cast.number} did not end without a pour."


@CAST_ACTIONS.add(
    "goes-on", "It goes on after all", "Take it up again", "The cast goes on.", why_not=_not_unpoured
)
def _save_goes_on(page: CastPage, sheet: Sheet, by: User) -> None:
    take_up_again(page.cast)


@CAST_ACTIONS.add(
    "remove",
    "Remove it: it was begun by mistake",
    "Remove the cast",
    "The cast is removed.",
    why_not=lambda page: "" if used_nothing(page.cast) else "Something was written for this cast already.",
    way_on=lambda page: reverse("inventory:cast-list"),
)
def _save_remove(page: CastPage, sheet: Sheet, by: User) -> None:
    remove_begun(page.cast)


@CAST_ACTIONS.add(
    "mend",
    "Mend what was written down",
    "Save",
    "Mended.",
    make=lambda page, data=None: Sheet(forms.MendForm(data, cast=page.cast)),
)
def _save_mend(page: CastPage, sheet: Sheet, by: User) -> None:
    mend_cast(page.cast, sheet.form.facts())


@CAST_ACTIONS.add(
    "finish",
    "Weigh the finished pieces",
    "Save the weights",
    "The finished weights are written down.",
    make=finish_sheet,
    why_not=lambda page: (
        "" if page.unfinished else f"No piece of cast {page.cast.number} waits to be finished."
    ),
)
def _save_finish(page: CastPage, sheet: Sheet, by: User) -> None:
    found, pieces = sheet.form.cleaned_data, {piece.pk: piece for piece in page.pieces}
    finished = [(piece.pk, mass_mg) for _, piece, mass_mg in sheet.form.weighed()]
    if any(pk not in pieces for pk, _ in finished):
        raise Refused("The weights of this cast were taken back meanwhile. Open its page again.")
    weighed = [(pieces[pk], mass_mg) for pk, mass_mg in finished]
    post_finish_together(weighed, found["filings"] or 0, found["day"], found["note"], by)
    if found["spent"]:
        tray = [piece for piece, _ in weighed]
        record_tray(tray, found["day"], found["spent"], found["task"], basis=found["basis"])
