"""Designs: their list, the page of one with what it has learnt, and what is written down of it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from inventory.core.credibility import Blend
from inventory.filters import WordsInUseFilter
from inventory.forms.designs import DesignForm, DesignSheet
from inventory.models import Design, Task
from inventory.posting.designs import claim_pieces, write_parts
from inventory.queries.designs import (
    Learnt,
    designs,
    find_design,
    learn,
    nameless_pieces,
    pieces_of,
    read_record,
)
from inventory.queries.pictures import SHOWN, pictures_of
from inventory.tables.designs import DesignTable
from studio.kit.measures import MASS
from studio.kit.views import or_404

from .records import RecordPages
from .saving import alone, show

SHOWN_PIECES = 12
TASKS = dict(Task.choices)


class Designs(RecordPages):
    name, folder, edit_path = "design", "pieces/designs/", "<whole:pk>/edit/"
    model, form_class, table_class = Design, DesignForm, DesignTable
    filterset_class = WordsInUseFilter
    title = "Designs"
    lead = "What you cast again and again. Each learns from its own pieces what the next will weigh, lose and take."
    press = ("Write down a design", "inventory:design-new")
    ways = (("Pieces", "inventory:piece-list"),)
    new_title = "A new design"
    record_template = "designs/design_edit.html"

    def get_queryset(self) -> Any:
        return designs()

    def make_sheet(self, data: Any, record: Design | None) -> DesignSheet:
        return DesignSheet(data, record)

    def save(self, sheet: Any) -> Design:
        design: Design = sheet.form.save()
        write_parts(design, sheet.takes(), sheet.times())
        return design

    def find_way_back(self, record: Design | None) -> tuple[str, str]:
        if record is not None:
            return reverse("inventory:design-detail", args=[record.pk]), str(record)
        return super().find_way_back(record)

    def find_way_on(self, record: Design) -> str:
        return reverse("inventory:design-detail", args=[record.pk])


def find_or_404(pk: int) -> Design:
    return or_404(find_design(pk), "There is no such design.")


@require_safe
def show_design(request: HttpRequest, pk: int) -> HttpResponse:
    """A design: what the next piece of it will weigh and take, and what that rests on."""
    design = find_or_404(pk)
    learnt = learn(design, read_record())
    context = {
        "design": design,
        "learnt": learnt,
        "figures": list_figures(learnt),
        "tasks": [(TASKS.get(task) or "not said", seconds) for task, seconds in learnt.by_task.items()],
        "said": say_next(learnt),
        "nameless": nameless_pieces(design),
        "pieces": pieces_of(design)[:SHOWN_PIECES],
        "pictures": pictures_of(design=design)[:SHOWN],
        "pictures_address": reverse("inventory:picture-list", args=["design", pk]),
        "labels_address": "",
        "section": "pieces",
    }
    return show(request, "designs/design.html", None, context)


def list_figures(learnt: Learnt) -> list[dict[str, Any]]:
    """One line for each figure of a design that is known."""
    return [
        {
            "label": blend.title,
            "words": _tell(learnt, blend, blend.value),
            "count": blend.count,
            # Of what fails or does not, a spread says nothing more.
            "spread": _tell(learnt, blend, blend.spread) if blend is not learnt.failed else "",
            "working": blend.working,
        }
        for blend in learnt.blends
        if blend.is_known
    ]


def _tell(learnt: Learnt, blend: Blend, value: int | None) -> str:
    """A figure beside the others: masses have the decimals of the scale, which their working goes beyond."""
    if value is None:
        return ""
    return MASS.print_in_column(value) if blend in (learnt.cast, learnt.finished) else blend.tell(value)


def say_next(learnt: Learnt) -> str:
    """ "The next one weighs 4.12 g as cast, 3.98 g finished, and takes 42 min." """
    parts = []
    if learnt.is_weighed:
        cast, finished = (_tell(learnt, blend, blend.value) for blend in (learnt.cast, learnt.finished))
        parts += [f"weighs {cast} as cast", f"{finished} finished"]
    said = ", ".join(parts)
    if learnt.seconds.is_known:
        said = f"{said}, and takes {learnt.seconds.words}" if said else f"takes {learnt.seconds.words}"
    return f"The next one {said}." if said else ""


@require_POST
@alone
def claim(request: HttpRequest, pk: int) -> HttpResponse:
    """The pieces that have a design's name are of it from now on."""
    count = claim_pieces(find_or_404(pk))
    said = "1 piece is" if count == 1 else f"{count} pieces are"
    messages.success(request, f"{said} of this design now.")
    return redirect("inventory:design-detail", pk)
