"""Moving a whole casting day, with one press, to where it meets no other."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.timezone import localtime
from django.views.decorators.http import require_POST

from inventory.forms.moving import MoveForm
from inventory.forms.sheet import Sheet
from inventory.models import CastingDay
from inventory.posting.moving import move_day
from studio.kit.printing import print_moment

from .days import find_day_sheet, show_day_sheet
from .saving import answer


@require_POST
def move_whole_day(request: HttpRequest, pk: int) -> HttpResponse:
    day = find_day_sheet(pk).day
    sheet = Sheet(MoveForm(request.POST, auto_id=False))
    done = answer(sheet, lambda: _move(request, day, sheet))
    return done or show_day_sheet(request, find_day_sheet(pk), sheet)


def _move(request: HttpRequest, day: CastingDay, sheet: Sheet) -> str:
    found = sheet.form.cleaned_data
    moved = move_day(day, found["quarters"], found["revision"])
    when = print_moment(localtime(moved.wish_at), with_year=True)
    messages.success(
        request,
        f"The day is moved: {moved.get_wish_display()} {when}. Take it into your calendar again: it moves there.",
    )
    return reverse("inventory:day", args=[day.pk])
