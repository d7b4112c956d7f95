"""What is asked about before a step of a cast is taken: a loss beyond the usual, ten times too much of something."""

from collections.abc import Iterator
from typing import Any

from inventory.core.doubts import doubt_loss, doubt_mass, doubt_shrunk
from inventory.models import Alloy, Cast, Material, Piece, Plan, PlanPortion
from inventory.queries.casting import charged_and_lost
from inventory.queries.casting_before import powder_of_flask
from inventory.queries.casting_page import CastPage
from inventory.queries.control import usual_loss
from inventory.queries.plans import plan_of, portions_for
from inventory.queries.usual import usual_charge_mg, usual_tree_mg
from studio.kit.rows import RowsFormSet

from .casting_sums import read_weighed
from .sheet import Sheet

Asked = Iterator[tuple[Any, str, str]]
THE_PLAN_SAYS = "the plan says"


def ask_charge(rows: RowsFormSet, alloy: Alloy, cast: Cast | None = None, plan: Plan | None = None) -> Asked:
    planned = _planned(plan, PlanPortion.Use.METAL)
    usual = None if planned else usual_charge_mg(alloy.pk, cast.pk if cast else None)
    yield from _ask_mass(rows, "mass", planned, usual, f"a charge of {alloy} usually weighs here")


def ask_powder(rows: RowsFormSet, flask: int | None, plan: Plan | None = None) -> Asked:
    planned = _planned(plan, PlanPortion.Use.POWDER)
    usual = None if planned else powder_of_flask(flask)
    yield from _ask_mass(rows, "mass", planned, usual, "this flask took the last time")


def ask_tree(rows: RowsFormSet, cast: Cast | None = None, plan: Plan | None = None) -> Asked:
    planned = sum(part.mass_mg for part in plan.parts.all()) if plan else None
    usual = None if planned else usual_tree_mg(cast.pk if cast else None)
    yield from _ask_mass(rows, "quantity", planned, usual, "a tree usually weighs here")


def ask_loss(form: Any, rows: RowsFormSet, charge_mg: int, alloy: Alloy) -> Asked:
    """Of a cast that is weighed out: its own loss is not among those that say what is usual."""
    if not rows.written_lines() and not form.cleaned_data["failed"]:
        # The posting will ask for the pieces first.
        return
    usual = usual_loss(alloy)
    lost_mg = charge_mg - read_weighed(form, rows).out_mg
    sentence = doubt_loss(lost_mg, charge_mg, usual.upper_pct100)
    if sentence:
        yield form, "back", sentence


def ask_finishing(form: Any, weighed: list[tuple[str, Piece, int]], filings_mg: int) -> Asked:
    """Of pieces that are finished, as (name of the field, piece, milligrams now)."""
    gone = [(piece.holder.quantity - mass_mg, name) for name, piece, mass_mg in weighed]
    if not gone:
        return
    cast = weighed[0][1].cast
    charge_mg, before_mg = charged_and_lost(cast.pk)
    usual = usual_loss(cast.alloy, but=cast)
    lost_mg = sum(mass_mg for mass_mg, _ in gone) - filings_mg
    sentence = doubt_loss(lost_mg, charge_mg, usual.upper_pct100, before_mg)
    most = max(gone)[1] if sentence else ""
    if sentence:
        yield form, most, sentence
    for name, piece, mass_mg in weighed:
        shrunk = doubt_shrunk(mass_mg, piece.holder.quantity)
        if shrunk and name != most:
            yield form, name, shrunk


def _ask_mass(rows: RowsFormSet, field: str, planned: int | None, usual: int | None, what: str) -> Asked:
    """Beside the heaviest line."""
    lines = [line for line in rows.written_lines() if _is_weighed(line)]
    if not lines:
        return
    total_mg = sum(line.cleaned_data[field] for line in lines)
    heaviest = max(lines, key=lambda line: line.cleaned_data[field])
    sentence = doubt_mass(total_mg, planned or usual, THE_PLAN_SAYS if planned else what)
    if sentence:
        yield heaviest, field, sentence


def _is_weighed(line: Any) -> bool:
    """A tree may also have what is counted."""
    material = getattr(line.cleaned_data.get("what"), "material", None)
    return material is None or material.unit == Material.Unit.MASS


def _planned(plan: Plan | None, use: str) -> int | None:
    return sum(portion.quantity for portion in portions_for(plan, use)) if plan else None


class StepSheet(Sheet):
    """A step of a cast, on the page of that cast."""

    def __init__(self, page: CastPage, form: Any, **rows: Any) -> None:
        super().__init__(form, **rows)
        self.page = page

    def doubts(self) -> Asked:
        yield from super().doubts()
        cast = self.page.cast
        if "tree" in self.rows:
            yield from ask_tree(self.rows["tree"], cast, plan_of(cast))
        if "powder" in self.rows:
            yield from ask_powder(self.rows["powder"], cast.flask_id, plan_of(cast))
        if "charge" in self.rows:
            yield from ask_charge(self.rows["charge"], cast.alloy, cast, plan_of(cast))
        if "pieces" in self.rows:
            yield from ask_loss(self.form, self.rows["pieces"], self.page.charge_mg, self.page.cast.alloy)


class FinishSheet(Sheet):
    """The form says what was weighed by `weighed()`, and of which pieces."""

    def doubts(self) -> Asked:
        yield from super().doubts()
        found = self.form.cleaned_data
        yield from ask_finishing(self.form, self.form.weighed(), found["filings"] or 0)
