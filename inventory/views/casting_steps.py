"""The words of each step of a cast, and what saving it does."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User

from inventory.forms.casting_record import water_for
from inventory.forms.casting_steps import day_of, weights_from
from inventory.forms.sheet import Sheet
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
from inventory.queries.casting_page import CastPage


@dataclass(frozen=True)
class StepWords:
    """`name` when it is done, `task` as the thing to do, `save` on its button, cautions beside the work."""

    name: str
    task: str
    save: str
    saved: str
    cautions: tuple[str, ...] = ()
    passed: str = "not recorded"


STEP_WORDS: dict[str, StepWords] = {
    "tree": StepWords("Tree", "Weigh the tree", "Save the tree", "The tree is written down."),
    "powder": StepWords(
        "Mould", "Invest the flask", "Save the mould", "The mould is written down.", ("powder",)
    ),
    "firing": StepWords(
        "Firing", "Burn out the flask", "Save the firing", "The firing is written down.", ("burnout",)
    ),
    "charge": StepWords("Charge", "Weigh the charge", "Save the charge", "The charge is written down."),
    "pour": StepWords("Pour", "Pour", "It is poured", "The pour is written down.", ("pour", "quench")),
    "weights": StepWords(
        "Weights", "Weigh what came out", "Close the cast", "The cast is closed.", ("quench",)
    ),
}

MORE_WORDS: dict[str, StepWords] = {
    "found": StepWords("Found", "Metal found later", "Save what was found", "What was found is in stock."),
    "time": StepWords("Time", "Time at the bench", "Save the time", "The time is written down."),
    "use": StepWords("Use", "Taken from stock for this cast", "Take it", "It is taken from stock."),
    "mend": StepWords("Mend", "Mend what was written down", "Save", "Mended."),
    "finish": StepWords(
        "Finish", "Weigh the finished pieces", "Save the weights", "The finished weights are written down."
    ),
}


def save_step(step: str, page: CastPage, sheet: Sheet, by: User | None) -> None:
    """Post or record one step. Raises Refused with a sentence for the person."""
    _SAVERS[step](page, sheet, by)


def _save_tree(page: CastPage, sheet: Sheet, by: User | None) -> None:
    rows: Any = sheet.rows["tree"]
    post_tree(page.cast, rows.records(), day_of(sheet), by)


def _save_powder(page: CastPage, sheet: Sheet, by: User | None) -> None:
    rows: Any = sheet.rows["powder"]
    portions = rows.portions()
    typed = sheet.form.cleaned_data["water"]
    water_mg = water_for(portions) if typed is None else typed
    before_mg = page.cast.water_mg if page.powder else None
    if before_mg is not None:
        # A second bowl of powder adds its water to that of the first.
        water_mg = before_mg + (water_mg or 0)
    post_powder(page.cast, portions, water_mg, day_of(sheet), by)


def _save_firing(page: CastPage, sheet: Sheet, by: User | None) -> None:
    form: Any = sheet.form
    choice = form.firing_choice(page.cast.day)
    if choice is None:
        raise Refused("Choose the firing, or describe a new one.", "firing")
    assign_firing(page.cast, choice)


def _save_charge(page: CastPage, sheet: Sheet, by: User | None) -> None:
    rows: Any = sheet.rows["charge"]
    day = day_of(sheet)
    post_charge(page.cast, rows.portions(), day, by)
    # A cast was begun on one day and is poured on another: its day is that of the pour.
    if day > page.cast.day:
        mend_cast(page.cast, {"day": day})


def _save_pour(page: CastPage, sheet: Sheet, by: User | None) -> None:
    form: Any = sheet.form
    record_pour(page.cast, form.pour_notes())


def _save_weights(page: CastPage, sheet: Sheet, by: User | None) -> None:
    materials = {part.material for part in page.tree}
    pattern = materials.pop() if len(materials) == 1 else None
    post_close(page.cast, weights_from(sheet, pattern), day_of(sheet), by)


def _save_found(page: CastPage, sheet: Sheet, by: User | None) -> None:
    found = sheet.form.cleaned_data
    if not page.cast.is_closed:
        raise Refused("This cast is not closed yet: write the metal among its weights.", "mass")
    post_found(page.cast, found["mass"], found["origin"], found["day"], found["note"] or "", by)


def _save_time(page: CastPage, sheet: Sheet, by: User | None) -> None:
    found = sheet.form.cleaned_data
    record_time(page.cast, found["day"], found["minutes"], found["what"] or "")


def _save_use(page: CastPage, sheet: Sheet, by: User | None) -> None:
    found = sheet.form.cleaned_data
    post_use(found["lot"], found["quantity"], found["day"], cast=page.cast, note=found["note"] or "", by=by)


def _save_mend(page: CastPage, sheet: Sheet, by: User | None) -> None:
    form: Any = sheet.form
    mend_cast(page.cast, form.facts())


def _save_finish(page: CastPage, sheet: Sheet, by: User | None) -> None:
    form: Any = sheet.form
    found, pieces = form.cleaned_data, {piece.pk: piece for piece in page.pieces}
    finished = form.finished()
    if any(pk not in pieces for pk, _ in finished):
        raise Refused("The weights of this cast were taken back meanwhile. Open its page again.")
    weighed = [(pieces[pk], mass_mg) for pk, mass_mg in finished]
    post_finish_together(weighed, found["filings"] or 0, found["day"], found["note"] or "", by)


_SAVERS: Mapping[str, Callable[[CastPage, Sheet, User | None], None]] = {
    "tree": _save_tree,
    "powder": _save_powder,
    "firing": _save_firing,
    "charge": _save_charge,
    "pour": _save_pour,
    "weights": _save_weights,
    "found": _save_found,
    "time": _save_time,
    "use": _save_use,
    "mend": _save_mend,
    "finish": _save_finish,
}
