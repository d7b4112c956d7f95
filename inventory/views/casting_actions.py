"""The steps of a cast and what can be written on it besides: each with its words, its form and what saving it does."""

from typing import Any

from django.contrib.auth.models import User
from django.http import Http404
from django.urls import reverse

from inventory.core.casting import STEP_TASKS
from inventory.forms import casting_steps as forms
from inventory.forms.casting_record import water_for, weights_of
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
from inventory.posting.casting_records import assign_firing, mend_cast, record_time
from inventory.posting.pieces import post_finish_together
from inventory.posting.refusal import Refused
from inventory.posting.stock import post_use
from inventory.queries.casting_page import CastPage, find_cast, read_cast_page
from inventory.queries.studio import current_studio

from .actions import Action, Actions


def find_or_404(number: int) -> Cast:
    cast = find_cast(number)
    if cast is None:
        raise Http404("There is no cast of this number.")
    return cast


def _save_tree(page: CastPage, sheet: Any, by: User) -> None:
    post_tree(page.cast, sheet.rows["tree"].records(), sheet.form.cleaned_data["day"], by)


def _save_powder(page: CastPage, sheet: Any, by: User) -> None:
    portions, found = sheet.rows["powder"].portions(), sheet.form.cleaned_data
    water_mg = water_for(portions) if found["water"] is None else found["water"]
    before_mg = page.cast.water_mg if page.powder else None
    if before_mg is not None:
        # A second bowl of powder adds its water to that of the first.
        water_mg = before_mg + (water_mg or 0)
    post_powder(page.cast, portions, water_mg, found["day"], by)


def _save_firing(page: CastPage, sheet: Any, by: User) -> None:
    choice = sheet.form.firing_choice(page.cast.day)
    if choice is None:
        raise Refused("Choose the firing, or describe a new one.", "firing")
    assign_firing(page.cast, choice)


def _save_charge(page: CastPage, sheet: Any, by: User) -> None:
    day = sheet.form.cleaned_data["day"]
    post_charge(page.cast, sheet.rows["charge"].portions(), day, by)
    # A cast was begun on one day and is poured on another: its day is that of the pour.
    if day > page.cast.day:
        mend_cast(page.cast, {"day": day})


def _save_pour(page: CastPage, sheet: Any, by: User) -> None:
    record_pour(page.cast, sheet.form.pour_notes())


def _save_weights(page: CastPage, sheet: Any, by: User) -> None:
    materials = {part.material for part in page.tree}
    pattern = materials.pop() if len(materials) == 1 else None
    found = sheet.form.cleaned_data
    post_close(page.cast, weights_of(found, sheet.rows["pieces"].groups(pattern)), found["day"], by)


def _save_found(page: CastPage, sheet: Any, by: User) -> None:
    found = sheet.form.cleaned_data
    if not page.cast.is_closed:
        raise Refused("This cast is not closed yet: write the metal among its weights.", "mass")
    post_found(page.cast, found["mass"], found["origin"], found["day"], found["note"] or "", by)


def _save_time(page: CastPage, sheet: Any, by: User) -> None:
    found = sheet.form.cleaned_data
    record_time(page.cast, found["day"], found["minutes"], found["what"] or "")


def _save_use(page: CastPage, sheet: Any, by: User) -> None:
    found = sheet.form.cleaned_data
    post_use(found["lot"], found["quantity"], found["day"], cast=page.cast, note=found["note"] or "", by=by)


def _save_mend(page: CastPage, sheet: Any, by: User) -> None:
    mend_cast(page.cast, sheet.form.facts())


def _save_finish(page: CastPage, sheet: Any, by: User) -> None:
    found, pieces = sheet.form.cleaned_data, {piece.pk: piece for piece in page.pieces}
    finished = sheet.form.finished()
    if any(pk not in pieces for pk, _ in finished):
        raise Refused("The weights of this cast were taken back meanwhile. Open its page again.")
    weighed = [(pieces[pk], mass_mg) for pk, mass_mg in finished]
    post_finish_together(weighed, found["filings"] or 0, found["day"], found["note"] or "", by)


def _closed(page: CastPage) -> str:
    if not page.cast.is_closed:
        return ""
    return f"Cast {page.cast.number} is closed. Reverse its weights first if they are wrong."


def _nothing_to_finish(page: CastPage) -> str:
    return "" if page.unfinished else f"No piece of cast {page.cast.number} waits to be finished."


def _step(step: str, name: str, button: str, said: str, **more: Any) -> Action[CastPage]:
    return Action(STEP_TASKS[step].capitalize(), button, said, name, **more)


CAST_ACTIONS: Actions[CastPage] = Actions(
    lambda number: read_cast_page(find_or_404(number), current_studio()),
    lambda page: reverse("inventory:cast-detail", args=[page.cast.number]),
    {
        "tree": _step(
            "tree",
            "Tree",
            "Save the tree",
            "The tree is written down.",
            make=forms.tree_sheet,
            save=_save_tree,
        ),
        "powder": _step(
            "powder",
            "Mould",
            "Save the mould",
            "The mould is written down.",
            cautions=("powder",),
            make=forms.powder_sheet,
            save=_save_powder,
        ),
        "firing": _step(
            "firing",
            "Firing",
            "Save the firing",
            "The firing is written down.",
            cautions=("burnout",),
            make=lambda page, data=None: Sheet(forms.FiringForm(data, cast=page.cast)),
            save=_save_firing,
        ),
        "charge": _step(
            "charge",
            "Charge",
            "Save the charge",
            "The charge is written down.",
            make=forms.charge_sheet,
            save=_save_charge,
            why_not=_closed,
        ),
        "pour": _step(
            "pour",
            "Pour",
            "It is poured",
            "The pour is written down.",
            cautions=("pour", "quench"),
            make=forms.pour_sheet,
            save=_save_pour,
            why_not=_closed,
        ),
        "weights": _step(
            "weights",
            "Weights",
            "Close the cast",
            "The cast is closed.",
            cautions=("quench",),
            make=forms.weights_sheet,
            save=_save_weights,
            why_not=_closed,
        ),
        "found": Action(
            "Metal found later",
            "Save what was found",
            "What was found is in stock.",
            make=lambda page, data=None: Sheet(forms.FoundForm(data)),
            save=_save_found,
        ),
        "time": Action(
            "Time at the bench",
            "Save the time",
            "The time is written down.",
            make=forms.time_sheet,
            save=_save_time,
        ),
        "use": Action(
            "Taken from stock for this cast",
            "Take it",
            "It is taken from stock.",
            make=lambda page, data=None: forms.use_sheet(data),
            save=_save_use,
        ),
        "mend": Action(
            "Mend what was written down",
            "Save",
            "Mended.",
            make=lambda page, data=None: Sheet(forms.MendForm(data, cast=page.cast)),
            save=_save_mend,
        ),
        "finish": Action(
            "Weigh the finished pieces",
            "Save the weights",
            "The finished weights are written down.",
            make=forms.finish_sheet,
            save=_save_finish,
            why_not=_nothing_to_finish,
        ),
    },
)
