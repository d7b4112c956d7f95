"""What is in stock, by kind and by lot, stock that comes in without a delivery, and the kinds of things kept."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.filters import LotFilter, MaterialFilter
from inventory.forms.materials import MaterialForm
from inventory.forms.sheet import Sheet
from inventory.forms.stock import HandedInForm, OpeningForm, OpeningRows
from inventory.forms.stock_rows import find_unit
from inventory.models import Alloy, Batch, Holder, Lot, Material
from inventory.posting.setup import scrap_material
from inventory.posting.stock import Told, post_handed_in, post_opening
from inventory.queries.buying import materials_to_choose
from inventory.queries.reclaim import scrap_outlook
from inventory.queries.refining import batches_here
from inventory.queries.setup import in_use, is_stock_written
from inventory.queries.stock import (
    MetalElsewhere,
    MetalOnHand,
    materials_with_stock,
    metal_elsewhere,
    metal_on_hand,
    other_on_hand,
    round_costs,
    standing_lots,
)
from inventory.queries.studio import studio_of
from inventory.queries.tins import filled_tins
from inventory.tables.refining import BatchTable
from inventory.tables.stock import CustomersMetalTable, LotTable, MaterialTable, MetalTable, OtherStockTable
from studio.kit.chart_pen import Picture
from studio.kit.charts import flow_bar
from studio.kit.measures import MASS
from studio.kit.rounding import Path
from studio.kit.tables import lay_out
from studio.kit.views import tell_understood

from .first_steps import with_wish
from .labelled import LabelledList
from .records import RecordPages
from .saving import answer, sent, show, signed_in_user

_ALLOYS_A_PAGE = 12
_MOST_OFFERED = 8


@require_safe
def show_stock(request: HttpRequest) -> HttpResponse:
    own, customers = metal_on_hand()
    others = other_on_hand(timezone.localdate())
    away = list(batches_here())
    elsewhere = _round_costs(own, others, away, metal_elsewhere(), studio_of(request).penny_micro)
    metal_cost_micro = sum(metal.cost_micro for metal in own)
    metal = lay_out(MetalTable(own, totals={"cost": metal_cost_micro}, prefix="metal-", order_by=()), request)
    other_cost_micro = sum(row["cost"] for row in others)
    away_cost_micro = sum(batch.holder.cost_micro for batch in away)
    cost_micro = metal_cost_micro + other_cost_micro + sum(one.cost_micro for one in elsewhere)
    scrap = scrap_outlook(studio_of(request)) if own else []
    context = {
        "metal": metal if own else None,
        "customers": lay_out(CustomersMetalTable(customers, prefix="customers-"), request)
        if customers
        else None,
        "bars": [_picture_metal(metal) for metal in own[:_ALLOYS_A_PAGE] if len(_parts(metal)) > 1],
        "scrap": Paginator(scrap, _ALLOYS_A_PAGE).get_page(request.GET.get("scrap")),
        "others": lay_out(
            OtherStockTable(others, totals={"cost": other_cost_micro}, prefix="other-"), request
        )
        if others
        else None,
        "batches": lay_out(
            BatchTable(away, totals={"cost": away_cost_micro}, prefix="batches-", orderable=False), request
        )
        if away
        else None,
        "tins": list(filled_tins()[:_MOST_OFFERED]) if own or customers else [],
        "elsewhere": elsewhere,
        "lots_micro": metal_cost_micro + other_cost_micro,
        "cost_micro": cost_micro,
        "is_empty": not (own or customers or others or elsewhere or away),
    }
    return render(request, "stock/stock.html", context)


def _parts(metal: MetalOnHand) -> list[tuple[str, str, int]]:
    """What there is of one alloy, as a bar shows it: colour, words, milligrams."""
    parts = (
        ("left", "fresh metal", metal.fresh_mg),
        ("back", "clean reclaim", metal.clean_mg),
        ("mould", "failed castings", metal.failed_mg),
        ("kiln", "spill", metal.spill_mg),
        ("filings", "filings", metal.filings_mg),
    )
    return [part for part in parts if part[-1]]


def _picture_metal(metal: MetalOnHand) -> Picture:
    title = f"{metal.alloy}: {MASS.print_in_column(metal.mass_mg)}"
    return flow_bar(_parts(metal), title=title)


def _round_costs(
    own: list[MetalOnHand],
    others: list[dict[str, Any]],
    away: list[Batch],
    elsewhere: list[MetalElsewhere],
    penny_micro: int,
) -> list[MetalElsewhere]:
    """Everything that the page shows a cost of, to the penny so that it adds up; the rows are changed in place."""
    held = [one for one in elsewhere if one.kind != Holder.Kind.BATCH]
    metal, other, batch, rest = ("lots", "metal"), ("lots", "other"), ("batch",), ("rest",)
    exact: dict[Path, list[int]] = {
        metal: [one.cost_micro for one in own],
        other: [row["cost"] for row in others],
        batch: [one.holder.cost_micro for one in away],
        rest: [one.cost_micro for one in held],
    }
    shown = round_costs(exact, penny_micro)
    for one, cost_micro in zip(own, shown[metal], strict=True):
        one.cost_micro = cost_micro
    for row, cost_micro in zip(others, shown[other], strict=True):
        row["cost"] = cost_micro
    for sent_batch, cost_micro in zip(away, shown[batch], strict=True):
        sent_batch.holder.cost_micro = cost_micro
    of_kind: dict[str, int] = {one.kind: cost for one, cost in zip(held, shown[rest], strict=True)}
    of_kind[Holder.Kind.BATCH] = sum(shown[batch])
    return [replace(one, cost_micro=of_kind[one.kind]) for one in elsewhere]


class LotList(LabelledList):
    title = "Lots"
    lead = "Each parcel of material, with what is left of it."
    table_class = LotTable
    filterset_class = LotFilter
    labels = "lot"
    totals = {"cost": "holder__cost_micro"}

    def get_queryset(self) -> "QuerySet[Lot]":
        return standing_lots()


@require_safe
def show_quantity_understood(request: HttpRequest) -> HttpResponse:
    """The line below a quantity whose unit is that of a material chosen beside it."""
    typed = request.GET.get(request.GET.get("quantity_field", ""), "")
    chosen = request.GET.get(request.GET.get("material_field", ""), "")
    if not chosen or not typed.strip():
        return HttpResponse("")
    unit = find_unit(chosen)
    return tell_understood(unit, typed, minimum=1) if unit else HttpResponse("")


@require_http_methods(["GET", "HEAD", "POST"])
def enter_opening(request: HttpRequest) -> HttpResponse:
    """Stock that was there before the books began: a lot a line."""
    materials, data = materials_to_choose(), sent(request)
    is_first = not is_stock_written()
    kwargs = {"materials": materials, "alloys": list(in_use(Alloy))}
    # On the first day a line stands ready for each thing that was written down.
    offered = [{"material": one} for one in materials[:_MOST_OFFERED]] if is_first else []
    lines = OpeningRows(data, prefix="lines", form_kwargs=kwargs, initial=offered)
    sheet = Sheet(OpeningForm(data), lines=lines)
    context = {"has_materials": bool(materials or kwargs["alloys"]), "is_first": is_first}
    return answer(sheet, lambda: _post_opening_lots(request, sheet, is_first)) or show(
        request, "stock/opening.html", sheet, context
    )


def _post_opening_lots(request: HttpRequest, sheet: Sheet, is_first: bool) -> str:
    cleaned, lines = sheet.form.cleaned_data, sheet.rows["lines"].written_lines()
    by = signed_in_user(request)
    for line in lines:
        lot = post_opening(line.opening_lot(cleaned["is_exact"]), cleaned["day"], cleaned["note"], by)
    said = "The opening stock is in."
    messages.success(request, with_wish(request, said) if is_first else said)
    if len(lines) == 1:
        return reverse("inventory:lot-detail", args=[lot.pk])
    return reverse("inventory:stock")


@require_http_methods(["GET", "HEAD", "POST"])
def take_in(request: HttpRequest) -> HttpResponse:
    """A customer's own metal, handed in."""
    form = HandedInForm(sent(request), initial={"customer": request.GET.get("customer")})
    sheet = Sheet(form)
    return answer(sheet, lambda: _post_handed_in(request, form)) or show(
        request, "stock/handed_in.html", sheet
    )


def _post_handed_in(request: HttpRequest, form: HandedInForm) -> str:
    cleaned = form.cleaned_data
    material, is_old = cleaned["material"], cleaned["is_old"]
    lot = post_handed_in(
        form.find_one(),
        scrap_material(material) if is_old else material,
        cleaned["mass"],
        cleaned["day"],
        melts_milli=None if is_old and cleaned["melts"] is None else cleaned["melts"] or 0,
        note=cleaned["note"],
        by=signed_in_user(request),
        told=Told(cleaned["what"], cleaned["stones"], cleaned["guess"]),
    )
    messages.success(request, "The metal is in, and kept apart from the studio's.")
    return reverse("inventory:lot-detail", args=[lot.pk])


KIND_WORDS = {
    Material.Kind.METAL: "grain, sheet, scrap and reclaim of an alloy",
    Material.Kind.POWDER: "what the mould is mixed from",
    Material.Kind.PATTERN: "wax, filament or resin that burns out",
    Material.Kind.CONSUMABLE: "flux, saw blades, polish",
    Material.Kind.FINDING: "ear wires, jump rings, stones",
    Material.Kind.PACKAGING: "boxes and cards that go out with a piece",
}


class Materials(RecordPages):
    """A new one first asks for its kind, since each kind has fields of its own."""

    name, folder = "material", "stock/materials/"
    model, form_class, table_class = Material, MaterialForm, MaterialTable
    title = "Materials"
    lead = "The kinds of things you keep. Each parcel of a material is a lot of its own."
    press = ("Enter a material", "inventory:material-new")
    filterset_class = MaterialFilter
    record_template = "stock/material.html"

    def get_queryset(self) -> "QuerySet[Material]":
        return materials_with_stock()

    def edit(self) -> HttpResponse:
        if "pk" not in self.kwargs and self.asked_kind not in Material.Kind.values:
            kinds = [(kind.value, kind.label, KIND_WORDS[kind]) for kind in Material.Kind]
            context = {"kinds": kinds}
            return render(self.request, "stock/material_kind.html", context)
        return super().edit()

    @property
    def asked_kind(self) -> str:
        return self.request.GET.get("kind", "")

    def get_new_title(self) -> str:
        return f"A new material: {Material.Kind(self.asked_kind).label}"

    def make_sheet(self, data: Any, record: Material | None) -> Sheet:
        return Sheet(MaterialForm(data, instance=record, kind=record.kind if record else self.asked_kind))
