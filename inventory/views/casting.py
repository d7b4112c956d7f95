"""The list of casts, and the beginning of one that is followed step by step."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.filters import CastFilter
from inventory.forms.casting import FactsForm
from inventory.forms.sheet import Sheet
from inventory.posting.casting import post_start
from inventory.queries.casting import casts_with_grams, with_steps
from inventory.queries.casting_choices import read_studio_choices
from inventory.tables.casting import CastTable
from studio.kit.listing import ListingView

from .saving import answer, sent, show, signed_in_user


class CastList(ListingView):
    template_name = "casting/cast_list.html"
    title = "Casts"
    lead = "One flask poured once. The bar is as wide as the charge: pieces, back to the tin, filings, lost."
    press = ("Record a cast", "inventory:cast-record")
    table_class = CastTable
    filterset_class = CastFilter

    def get_queryset(self) -> Any:
        return with_steps(casts_with_grams()).order_by("-number")


@require_http_methods(["GET", "HEAD", "POST"])
def start_cast(request: HttpRequest) -> HttpResponse:
    """Begin a cast that will be recorded step by step."""
    form = FactsForm(sent(request), choices=read_studio_choices())
    sheet = Sheet(form)
    return answer(sheet, lambda: _start(request, form)) or show(request, "casting/start.html", sheet)


def _start(request: HttpRequest, form: FactsForm) -> str:
    cast = post_start(form.facts(), signed_in_user(request))
    messages.success(request, f"Cast {cast.number} is begun.")
    return reverse("inventory:cast-detail", args=[cast.number])
