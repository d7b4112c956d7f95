"""Mending an entry where it stands: the form filled with what was written, what would change, and then the mend."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.forms.mending import mend_sheet, mended_by
from inventory.forms.sheet import Sheet
from inventory.models import Entry
from inventory.posting.mending import Foreseen, Mend, post_agreed, read_given
from inventory.posting.refusal import Refused
from inventory.queries.ledger import describe_entry, entries_with_names
from inventory.queries.refining import find_batch_of
from inventory.tables.ledger import is_reversed

from .saving import answer, sent, show, signed_in_user

CHANGES_SHOWN = 40


class _Asks(Refused):
    """Not saved yet: the person has not seen what would change."""

    def __init__(self, foreseen: Foreseen) -> None:
        super().__init__("Look at what would change, and press once more.")
        self.foreseen = foreseen


@require_http_methods(["GET", "HEAD", "POST"])
def mend_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """The first press shows what would change, the second does it; what has become something else is shown anew."""
    entry = get_object_or_404(entries_with_names().select_related("piece__cast", "bill_for"), pk=pk)
    if entry.reverses_id is not None:
        raise Http404("What takes another entry back stands as it is.")
    given = _read_standing(entry)
    if given is None:
        messages.warning(request, "This was taken back or mended already: here is what became of it.")
        return redirect(reverse("inventory:entry-detail", args=[pk]))
    sheet = mend_sheet(entry, given, sent(request))
    done = answer(sheet, lambda: _mend(request, entry, sheet, given))
    if done is not None:
        return done
    context: dict[str, Any] = {
        "entry": entry,
        "words": describe_entry(entry),
        "back": address_of(entry),
        "in_the_way": sheet.refused.blockers if sheet.refused else (),
    }
    if isinstance(sheet.refused, _Asks):
        foreseen = sheet.refused.foreseen
        sheet.form.data = sheet.form.data.copy()
        sheet.form.data["seen"] = foreseen.mark
        sheet.form.errors.clear()
        context |= {
            "foreseen": foreseen,
            "changes": foreseen.changes[:CHANGES_SHOWN],
            "more": max(0, len(foreseen.changes) - CHANGES_SHOWN),
        }
    return show(request, "ledger/mend.html", sheet, context)


def _read_standing(entry: Entry) -> Any:
    """What was given for an entry; None where it does not stand any more, or ceased to while it was read."""
    try:
        return None if is_reversed(entry) else read_given(entry)
    except ObjectDoesNotExist:
        return None


def _mend(request: HttpRequest, entry: Entry, sheet: Sheet, given: Any) -> str:
    cleaned, by = sheet.form.cleaned_data, signed_in_user(request)
    mends = {entry: Mend(cleaned["day"], mended_by(entry, given, sheet))}
    foreseen = post_agreed(mends, cleaned["seen"], cleaned["note"], by)
    if foreseen.mark != cleaned["seen"]:
        raise _Asks(foreseen)
    messages.success(request, f"Mended: {describe_entry(entry)}.")
    return address_of(entry)


def address_of(entry: Entry) -> str:
    """The page of what an entry is about, where a person who mended it wants to be."""
    if entry.piece_id is not None:
        return reverse("inventory:piece-detail", args=[entry.piece_id])
    if entry.cast is not None:
        return reverse("inventory:cast-detail", args=[entry.cast.number])
    delivery = entry.bill_for or getattr(entry, "delivery", None)
    if delivery is not None:
        return reverse("inventory:delivery-detail", args=[delivery.pk])
    assayed = entry.fineness_notes.first() if entry.kind == Entry.Kind.ASSAY else None
    if assayed is not None:
        return reverse("inventory:lot-detail", args=[assayed.lot_id])
    batch = find_batch_of(entry)
    if batch is not None:
        return reverse("inventory:batch-detail", args=[batch])
    holder = entry.movements.filter(source__lot__isnull=False).values_list("source__lot", flat=True).first()
    lot = holder or entry.movements.values_list("target__lot", flat=True).first()
    return reverse("inventory:lot-detail", args=[lot])
