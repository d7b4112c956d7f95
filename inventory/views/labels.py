"""Labels and tags with a code: for one thing, or for what a list shows."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.forms.labels import LabelsForm, LabelSheetForm
from inventory.forms.sheet import Sheet
from inventory.models import LabelSheet
from inventory.queries.setup import in_use
from inventory.tables.studio import LabelSheetTable
from studio.kit.export import PDF_TYPE, attachment
from studio.kit.labels import Label, draw_labels

from .records import RecordPages
from .saving import show
from .things import Thing, thing_or_404

#: The price to print for each of some records, by its key: another app puts its own here, by the kind of thing.
LABEL_PRICES: dict[str, Callable[[Sequence[Any]], Mapping[int, str]]] = {}

MOST_THINGS = 300
_OWN = ("sheet", "first", "copies", "with_price", "pick", "make")
_LOOPBACK = ("127.0.0.1", "localhost", "::1")


class LabelSheets(RecordPages):
    name, folder, model = "label-sheet", "setup/label-sheets/", LabelSheet
    form_class, table_class = LabelSheetForm, LabelSheetTable
    title, new_title = "Label sheets", "A new label sheet"
    lead = "How the labels lie on the sheets that you buy; the pack says it, or a ruler."
    press = ("Write down a sheet", "inventory:label-sheet-new")
    record_template = "setup/label_sheet.html"
    begins_with_form = True


@require_safe
def show_labels(request: HttpRequest, kind: str) -> HttpResponse:
    """Choose the sheet and what gets a label; with `make`, the PDF. `only` is one thing, else what the list shows."""
    thing = thing_or_404(kind)
    rows = _find_rows(request, thing)
    records, more = rows[:MOST_THINGS], len(rows) > MOST_THINGS
    things = [(str(thing.key_of(record)), thing.title_in_list(record)) for record in records]
    form = LabelsForm(request.GET if "make" in request.GET else None, things, kind in LABEL_PRICES)
    if form.is_bound and form.is_valid():
        return _make(request, thing, records, form.cleaned_data)
    base = find_base(request)
    context = {
        "title": f"Labels for {thing.plural}",
        "has_sheet": in_use(LabelSheet).exists(),
        "records": records,
        "more": MOST_THINGS if more else 0,
        "base": base,
        "is_loopback": urlsplit(base).hostname in _LOOPBACK,
        "kept": [
            (name, value) for name, values in request.GET.lists() if name not in _OWN for value in values
        ],
        "list_address": reverse(f"inventory:{kind}-list"),
        "list_title": thing.listing.title,
    }
    return show(request, "labels/labels.html", Sheet(form), context)


def _find_rows(request: HttpRequest, thing: Thing) -> list[Any]:
    """What the list with these filters shows, up to one more than gets labels; or the one thing that is asked for."""
    only = request.GET.get("only", "")
    if only:
        is_key = only.isdecimal() and len(only) < 10
        return [thing.find(int(only) if is_key else 0)]
    listing = thing.listing()
    listing.setup(request)
    filterset = listing.make_filterset()
    rows = listing.get_queryset() if filterset is None else filterset.qs
    return list(rows[: MOST_THINGS + 1])


def _make(request: HttpRequest, thing: Thing, records: list[Any], wanted: dict[str, Any]) -> HttpResponse:
    chosen = [record for record in records if str(thing.key_of(record)) in set(wanted["pick"])]
    prices = LABEL_PRICES[thing.kind](chosen) if wanted.get("with_price") else {}
    base = find_base(request)
    labels = [
        Label(
            f"{base}{reverse('inventory:label', args=[thing.letter, thing.key_of(record)])}",
            (*thing.lines(record), *([prices[record.pk]] if record.pk in prices else [])),
        )
        for record in chosen
        for _ in range(wanted["copies"])
    ]
    content = draw_labels(wanted["sheet"].shape, labels, wanted["first"], f"Labels for {thing.plural}")
    return attachment(content, f"labels {thing.plural} {timezone.localdate().isoformat()}.pdf", PDF_TYPE)


def find_base(request: HttpRequest) -> str:
    """How a phone reaches the studio: as it was called now or, called from this machine, by its first other name."""
    asked = urlsplit(request.build_absolute_uri("/"))
    named = [host for host in settings.STUDIO_HOSTS if not host.startswith((".", "*"))]
    if asked.hostname not in _LOOPBACK or not named:
        return f"{asked.scheme}://{asked.netloc}"
    return f"{asked.scheme}://{named[0]}" + (f":{asked.port}" if asked.port else "")
