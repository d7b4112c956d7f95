"""Writing down and changing a record of the set-up, and putting one away without losing what hangs on it."""

from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.forms import ModelForm
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST
from django.views.generic.detail import SingleObjectTemplateResponseMixin
from django.views.generic.edit import CreateView, ModelFormMixin, ProcessFormView, UpdateView

from inventory.models import Alloy, Customer, Equipment, Material, Schedule, Supplier
from inventory.posting.locking import studio_locked

from .saving import alone

NAME_TAKEN = "This name is already in use. Write another."


class RecordMixin(SingleObjectTemplateResponseMixin, ModelFormMixin, ProcessFormView):
    """Set `list_name` and `list_label` (the list that the record stands in) and `title`."""

    template_name = "setup/record.html"
    title = ""
    list_name = ""
    list_label = ""
    save_label = "Save"
    saved_name = ""

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        # A form judges by what hangs on its record, so nothing may come to hang on it meanwhile.
        with studio_locked():
            return super().post(request, *args, **kwargs)

    def get_title(self) -> str:
        return self.title or self.saved_name

    def get_success_url(self) -> str:
        return reverse(self.list_name)

    def form_valid(self, form: ModelForm) -> HttpResponse:
        try:
            with transaction.atomic():
                self.object = form.save()
        except IntegrityError:
            # Somebody took the name between the check and the save.
            form.add_error("name", NAME_TAKEN)
            return self.form_invalid(form)
        messages.success(self.request, f"Saved: {self.object}.")
        return HttpResponseRedirect(self.get_success_url())

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            title=self.get_title(),
            list_address=reverse(self.list_name),
            list_label=self.list_label,
            save_label=self.save_label,
            section="setup",
            archive_address=self.get_archive_address(),
            **kwargs,
        )

    def get_archive_address(self) -> str:
        if self.object is None or self.object.pk is None or not hasattr(self.object, "archived"):
            return ""
        return reverse("inventory:archive", args=[self.object._meta.model_name, self.object.pk])


class RecordCreate(RecordMixin, CreateView):
    """A page that writes down a new record."""


class RecordUpdate(RecordMixin, UpdateView):
    """A page that changes a record and offers to put it away."""

    def get_object(self, queryset: Any = None) -> Any:
        record = super().get_object(queryset)
        # A form that is refused has changed the record in memory; the heading names what is saved.
        self.saved_name = str(record)
        return record


_ARCHIVED: dict[str, tuple[type[Model], str]] = {
    "alloy": (Alloy, "inventory:alloy-list"),
    "supplier": (Supplier, "inventory:supplier-list"),
    "customer": (Customer, "inventory:customer-list"),
    "material": (Material, "inventory:material-list"),
    "equipment": (Equipment, "inventory:equipment-list"),
    "schedule": (Schedule, "inventory:schedule-list"),
}


@require_POST
@alone
def archive(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Put a record away, or bring it back. Nothing that names it changes; it is only no longer offered."""
    if what not in _ARCHIVED:
        raise Http404
    model, list_name = _ARCHIVED[what]
    record: Any = get_object_or_404(model, pk=pk)
    record.archived = "bring_back" not in request.POST
    record.save(update_fields=["archived"])
    done = "put away: it is no longer offered" if record.archived else "in use again"
    messages.success(request, f"{record} is {done}.")
    return redirect(list_name)
