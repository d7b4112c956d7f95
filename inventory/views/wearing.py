"""What wears and is replaced: elements, oil, hoses, seals; how long each lasts, and its log."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.forms.wearing import ReplacedForm, WearingPartForm
from inventory.models import Equipment, WearingPart
from inventory.posting.wearing import take_back_replacement, write_replacement
from inventory.queries.wearing import WornThing, look_at_part, parts_that_wear
from inventory.tables.studio import WearingPartTable
from studio.kit.printing import print_day

from .records import RecordPages
from .saving import answer_record, sent, signed_in_user

LOG_SHOWN = 12


def address_of_worn(one: WornThing) -> str:
    kind = "equipment" if isinstance(one.thing, Equipment) else "wearing-part"
    return reverse(f"inventory:{kind}-edit", args=[one.thing.pk])


class WearingParts(RecordPages):
    name, folder, model = "wearing-part", "setup/wearing/", WearingPart
    form_class, table_class = WearingPartForm, WearingPartTable
    title, new_title = "What wears and is replaced", "Something that wears"
    lead = "Elements, oil, hoses, seals: how long each lasts, so that another is there in time."
    press = ("Write down what wears", "inventory:wearing-part-new")
    record_template = "setup/wearing_part.html"

    def get_queryset(self) -> Any:
        return parts_that_wear()

    def read_more(self, record: WearingPart | None) -> dict[str, Any]:
        if record is None:
            return {}
        return {
            "outlook": look_at_part(record, timezone.localdate()),
            "log": list(record.replacements.all())[:LOG_SHOWN],
        }


@require_http_methods(["GET", "HEAD", "POST"])
def replace(request: HttpRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(WearingPart, pk=pk)
    address = reverse("inventory:wearing-part-edit", args=[pk])
    form = ReplacedForm(sent(request), part=part)

    def save() -> str:
        cleaned = form.cleaned_data
        write_replacement(
            part, cleaned["day"], cleaned["was_worn_out"], cleaned["note"], signed_in_user(request)
        )
        messages.success(request, f"{part} is new since {print_day(part.new_on, with_year=True)}.")
        return address

    return answer_record(request, form, save, f"{part} was replaced", (address, str(part)), "It was replaced")


@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(WearingPart, pk=pk)
    if take_back_replacement(part):
        messages.success(
            request, f"Taken back: {part} is new since {print_day(part.new_on, with_year=True)}."
        )
    else:
        messages.warning(request, f"{part} was never replaced. Nothing was changed.")
    return redirect("inventory:wearing-part-edit", pk=pk)
