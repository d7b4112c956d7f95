"""What the pages for cost rules and metal prices have in common."""

from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.forms import ModelForm
from django.http import HttpResponse, HttpResponseRedirect

from inventory.views.records import RecordMixin


class DatedRecordMixin(RecordMixin):
    """A record of which there is one a day; `day_field` and `taken` say where and how a second one is refused."""

    day_field = ""
    taken = ""

    def word_record(self, record: Any) -> str:
        raise NotImplementedError

    def form_valid(self, form: ModelForm) -> HttpResponse:
        try:
            with transaction.atomic():
                self.object = form.save()
        except IntegrityError:
            # Somebody saved the same day between the check and the save.
            form.add_error(self.day_field, f"{self.taken} Look at it in the list, or write another day.")
            return self.form_invalid(form)
        messages.success(self.request, f"Saved: {self.word_record(self.object)}.")
        return HttpResponseRedirect(self.get_success_url())
