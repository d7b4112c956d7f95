"""A kind of record of the set-up: its list, the page that writes a new one down, and the page that changes one.

class Suppliers(RecordPages):
    name, folder, model = "supplier", "setup/suppliers/", Supplier
    form_class, table_class = SupplierForm, SupplierTable
    title, new_title = "Suppliers", "A new supplier"

urlpatterns = [*Suppliers.urls()]
"""

from typing import Any, ClassVar

from django.contrib import messages
from django.db.models import Model
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import URLPattern, path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.powder import compute_flask_inside
from inventory.filters import EquipmentFilter, InUseFilter, WordsInUseFilter
from inventory.forms.alloys import AlloyForm, AlloySheet, density_working
from inventory.forms.equipment import EquipmentForm
from inventory.forms.sheet import Sheet
from inventory.forms.studio import CustomerForm
from inventory.models import Alloy, Customer, Equipment
from inventory.posting.setup import write_composition
from inventory.queries.customers import lots_of
from inventory.queries.equipment import equipment_with_use, use_of
from inventory.queries.kiln_logs import learnt_of
from inventory.queries.plans import melt_cautions
from inventory.queries.setup import every
from inventory.queries.wearing import wearing_outlook
from inventory.tables.studio import AlloyTable, CustomerTable, EquipmentTable, describe_use
from studio.kit.listing import ListFilter, ListingView

from .first_steps import go_on
from .saving import NAME_TAKEN, alone, answer, sent, show


class RecordPages(ListingView):
    """Declare `name`, `folder`, `model`, `form_class`, `table_class`, `title` and `new_title`.

    The addresses are called NAME-list, NAME-new and NAME-edit. A model that can be archived is put away and
    brought back from its page. The methods below say what a kind does otherwise.
    """

    filterset_class: type[ListFilter] | None = InUseFilter
    app = "inventory"
    name = ""
    folder = ""
    model: type[Model]
    form_class: type[Any]
    new_title = ""
    record_template = "setup/record.html"
    edit_path = "<whole:pk>/"
    #: Whether the form of a new one stands in for the list, as long as there is none.
    begins_with_form = False
    #: The field and the sentence, where somebody took the name between the check and the save.
    taken = NAME_TAKEN

    kinds: ClassVar[dict[str, type["RecordPages"]]] = {}

    def __init_subclass__(cls) -> None:
        cls.kinds[cls.name] = cls

    @classmethod
    def urls(cls) -> list[URLPattern]:
        return [path(cls.folder, cls.as_view(), name=f"{cls.name}-list"), *cls.record_urls()]

    @classmethod
    def record_urls(cls, new_path: str = "new/") -> list[URLPattern]:
        """The addresses of one record, for a kind whose list is a page of another make."""

        @require_http_methods(["GET", "HEAD", "POST"])
        @alone
        def edit(request: HttpRequest, **parts: Any) -> HttpResponse:
            page = cls()
            page.setup(request, **parts)
            return page.edit()

        return [
            path(f"{cls.folder}{new_path}", edit, name=f"{cls.name}-new"),
            path(f"{cls.folder}{cls.edit_path}", edit, name=f"{cls.name}-edit"),
        ]

    def get_queryset(self) -> Any:
        return every(self.model)

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        form = "" if "export" in request.GET else self.find_first_form()
        return redirect(form) if form else super().get(request, *args, **kwargs)

    def find_first_form(self) -> str:
        """The form of a new record while there is none, of a kind that begins with it; "" otherwise."""
        if not self.begins_with_form or self.get_queryset().exists():
            return ""
        return reverse(f"{self.app}:{self.name}-new")

    def edit(self) -> HttpResponse:
        """Show one record, or save it."""
        pk = self.kwargs.get("pk")
        record = get_object_or_404(self.get_queryset(), pk=pk) if pk is not None else None
        sheet = self.make_sheet(sent(self.request), record)
        # Read before the form is judged: one that is refused has changed the record in memory.
        context = self._record_context(record)
        return answer(sheet, lambda: self._save(sheet), self.taken) or show(
            self.request, self.record_template, sheet, context
        )

    def _save(self, sheet: Sheet) -> str:
        is_first = bool(self.find_first_form())
        saved = self.save(sheet)
        if is_first:
            return go_on(self.request, self.describe_saved(saved), self.find_way_on(saved))
        messages.success(self.request, self.describe_saved(saved))
        return self.find_way_on(saved)

    def _record_context(self, record: Any) -> dict[str, Any]:
        address, label = self.find_way_back(record)
        return {
            "object": record,
            "title": self.get_new_title() if record is None else self.describe(record),
            "list_address": address,
            "list_label": label,
            "save_label": "Save",
            "archive_address": reverse("inventory:archive", args=[self.name, record.pk])
            if hasattr(record, "archived")
            else "",
            **self.read_more(record),
        }

    def make_sheet(self, data: Any, record: Any) -> Sheet:
        return Sheet(self.form_class(data, instance=record))

    def save(self, sheet: Sheet) -> Any:
        """Save a valid sheet and return its record. IntegrityError says that somebody took the name meanwhile."""
        return sheet.form.save()

    def get_new_title(self) -> str:
        return self.new_title

    def describe(self, record: Any) -> str:
        return str(record)

    def describe_saved(self, record: Any) -> str:
        return f"Saved: {record}."

    def read_more(self, record: Any) -> dict[str, Any]:
        """What the page of a record shows besides its form; `record` is None for a new one."""
        return {}

    @property
    def list_address(self) -> str:
        return reverse(f"{self.app}:{self.name}-list")

    def find_way_back(self, record: Any) -> tuple[str, str]:
        """Where the page of a record leads back to, and what that is called."""
        if self.find_first_form():
            return reverse("inventory:setup"), "Set-up"
        return self.list_address, self.title

    def find_way_on(self, record: Any) -> str:
        """Where saving a record leads to."""
        return self.list_address


@require_POST
@alone
def archive(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Put a record away, or bring it back. Nothing that names it changes; it is only no longer offered."""
    pages = RecordPages.kinds.get(what)
    if pages is None or not hasattr(pages.model, "archived"):
        raise Http404
    record: Any = get_object_or_404(pages.model, pk=pk)
    record.archived = "bring_back" not in request.POST
    record.save(update_fields=["archived"])
    done = "put away: it is no longer offered" if record.archived else "in use again"
    messages.success(request, f"{record} is {done}.")
    return redirect(pages().list_address)


#: Of a customer's lots on their page; all of them stand in the list of lots.
_SHOWN = 20


class Customers(RecordPages):
    name, folder = "customer", "setup/customers/"
    model, form_class, table_class = Customer, CustomerForm, CustomerTable
    filterset_class = WordsInUseFilter
    title = "Customers"
    lead = "Whose own metal you cast. It is kept apart from yours, and carries no cost."
    press = ("Write down a customer", "inventory:customer-new")
    new_title = "A new customer"
    record_template = "setup/customer.html"
    begins_with_form = True

    def read_more(self, record: Customer | None) -> dict[str, Any]:
        if record is None:
            return {}
        return {"lots": lots_of(record)[:_SHOWN]}


class Alloys(RecordPages):
    name, folder = "alloy", "setup/alloys/"
    model, form_class, table_class = Alloy, AlloyForm, AlloyTable
    title = "Alloys"
    lead = "What you cast. The density turns a wax weight into a metal weight; the fineness counts the fine metal."
    press = ("Write down an alloy", "inventory:alloy-new")
    new_title = "A new alloy"
    record_template = "setup/alloy.html"

    def make_sheet(self, data: Any, record: Alloy | None) -> AlloySheet:
        return AlloySheet(data, record)

    def save(self, sheet: Any) -> Alloy:
        alloy: Alloy = sheet.form.save()
        write_composition(alloy, sheet.rows["parts"].parts)
        return alloy

    def read_more(self, record: Alloy | None) -> dict[str, Any]:
        if record is None:
            return {"working": None, "cautions": ()}
        stored = {part.element: part.per_10000 for part in record.parts.all()}
        return {"working": density_working(stored), "cautions": melt_cautions([record.pk])}


class AllEquipment(RecordPages):
    name, folder = "equipment", "setup/equipment/"
    model, form_class, table_class = Equipment, EquipmentForm, EquipmentTable
    template_name, record_template = "setup/equipment_list.html", "setup/equipment.html"
    title = "Equipment"
    lead = "What you cast with. Its wear is part of what a piece costs."
    filterset_class = EquipmentFilter
    begins_with_form = True

    @classmethod
    def record_urls(cls, new_path: str = "new/<str:kind>/") -> list[URLPattern]:
        return super().record_urls(new_path)

    def get_queryset(self) -> Any:
        return equipment_with_use()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(kinds=self.list_kinds(), **kwargs)

    def list_kinds(self) -> list[tuple[str, str]]:
        """Each kind with the address of the form of a new one, but the one that is open."""
        open_kind = self.kwargs.get("kind")
        return [
            (kind.label, reverse("inventory:equipment-new", args=[kind.value]))
            for kind in Equipment.Kind
            if kind != open_kind
        ]

    def find_first_form(self) -> str:
        kind = self.kwargs.get("kind") or self.request.GET.get("kind")
        rows = every(Equipment)
        if kind in Equipment.Kind.values:
            rows = rows.filter(kind=kind)
        else:
            kind = Equipment.Kind.KILN.value
        return "" if rows.exists() else reverse("inventory:equipment-new", args=[kind])

    def get_new_title(self) -> str:
        return f"A new {self.find_kind(None).label}"

    def find_kind(self, record: Equipment | None) -> Equipment.Kind:
        try:
            return Equipment.Kind(record.kind if record else self.kwargs["kind"])
        except ValueError as unknown:
            raise Http404 from unknown

    def make_sheet(self, data: Any, record: Equipment | None) -> Sheet:
        kind = self.find_kind(record)
        initial = (
            {"name": f"{kind.label.capitalize()} 1"} if record is None and self.find_first_form() else None
        )
        return Sheet(EquipmentForm(data, instance=record, kind=kind, initial=initial))

    def read_more(self, record: Equipment | None) -> dict[str, Any]:
        if record is None:
            return {"kinds": self.list_kinds()}
        working = None
        if record.diameter_um and record.height_um:
            working = compute_flask_inside(record.diameter_um, record.height_um)[1]
        use = use_of(record)
        wears = [one for one in wearing_outlook(timezone.localdate()) if one.thing == record]
        return {
            "kind": record.kind,
            "use": use,
            "use_words": describe_use(use),
            "working": working,
            "wears": wears,
            "learnt": learnt_of(record) if record.kind == Equipment.Kind.KILN else (),
        }
