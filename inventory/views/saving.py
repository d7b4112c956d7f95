"""The one way to answer a form: saved once, refused beside its field, or shown again with another line.

sheet = Sheet(HandedInForm(sent(request)))
return answer(sheet, lambda: _save(request, sheet)) or show(request, "stock/handed_in.html", sheet)

What can be done with a record is declared once, and opened, saved and refused the same way:

LOT_ACTIONS = Actions(find_lot, address_of_lot, {"count": Action("Count it", "Set to this", make=..., save=...)})
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import wraps
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_safe

from inventory.forms.sheet import Sheet
from inventory.models import Entry
from inventory.posting.locking import studio_locked
from inventory.posting.once import post_once
from inventory.posting.refusal import Refused
from inventory.queries.once import result_of
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.rows import answer_in_place
from studio.kit.saved import SavedAlready
from studio.kit.sending import SAVED

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]

REFUSED = 422
NAME_TAKEN = ("name", "This name is already in use. Write another.")


def alone(view: View[P]) -> View[P]:
    """Answer what is sent to this page while nobody else writes, so that what its form judges by stays true.

    For pages that save a record without a posting; a form with a one-time key waits in `post_once` instead.
    """

    @wraps(view)
    def answer_alone(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        with studio_locked():
            return view(request, *args, **kwargs)

    return answer_alone


def sent(request: HttpRequest) -> Any:
    """What was sent in to be saved; None where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def answer(
    sheet: Sheet, save: Callable[[], str], taken: tuple[str, str] | None = None
) -> HttpResponse | None:
    """Save what was sent in and lead on to the result, or give a line in place; None to show the page.

    `save` returns an address. It is done once for the form's key, if the form has one. What it refuses stands
    beside its field, and nothing was changed; so does what is out of the ordinary until it is ticked. `taken` is the
    field and the sentence for a record that somebody else wrote down between the check and the save.
    """
    form = sheet.form
    if not form.is_bound:
        return None
    if sheet.asks_for_row:
        sheet.hold_judgement()
        return answer_in_place(*sheet.rows.values())
    is_right = sheet.is_valid()
    # First of all: what was right when it was saved may be wrong by now, as its metal is used.
    once_key = form.cleaned_data.get("once")
    if once_key and (saved := result_of(once_key)):
        return SavedAlready(saved, headers={SAVED: "1"})
    if not is_right or sheet.has_doubts():
        return None
    try:
        if once_key:
            return _lead_on(post_once(once_key, save))
        with transaction.atomic():
            return _lead_on(save())
    except Refused as refused:
        sheet.refuse(refused)
    except IntegrityError:
        if taken is None:
            raise
        form.add_error(*taken)
    return None


def _lead_on(address: str) -> HttpResponse:
    return HttpResponseRedirect(address, headers={SAVED: "1"})


@require_safe
def tell_saved(request: HttpRequest) -> HttpResponse:
    """The address of what the one-time key `?key=` saved; no content where it saved nothing.

    A page asks whose answer was lost on the way.
    """
    try:
        address = result_of(UUID(request.GET.get("key", "")))
    except ValueError:
        address = ""
    return HttpResponse(address, content_type="text/plain; charset=utf-8", status=200 if address else 204)


def show(
    request: HttpRequest, template: str, sheet: Sheet | None, context: Mapping[str, Any] | None = None
) -> HttpResponse:
    """The page of a sheet. One that is shown again because something is to be mended says so to programs too."""
    if sheet is None:
        return render(request, template, context)
    own = {"sheet": sheet, "form": sheet.form, "mistakes": sheet.mistakes, **sheet.rows}
    is_refused = sheet.form.is_bound and not sheet.is_held
    return render(request, template, {**own, **(context or {})}, status=REFUSED if is_refused else 200)


def answer_record(
    request: HttpRequest,
    form: Any,
    save: Callable[[], str],
    title: str,
    back: tuple[str, str],
    save_label: str = "Save",
    **more: Any,
) -> HttpResponse:
    """Answer the page of one form and nothing else. `back` is the address that it leads back to, and what that is."""
    sheet = Sheet(form)
    address, label = back
    context = {"title": title, "list_address": address, "list_label": label, "save_label": save_label, **more}
    return answer(sheet, save) or show(request, "setup/record.html", sheet, context)


def signed_in_user(request: HttpRequest) -> User:
    """Who posts: pages that post are only for people who signed in."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - the middleware lets nobody else through
    return user


def with_way_back(said: str, entry: Entry | None) -> str:
    """What was done, with the way to take it back where something was written."""
    if entry is None:
        return said
    return format_html(
        '{} <a href="{}">Take it back</a>', said, reverse("inventory:entry-reverse", args=[entry.pk])
    )


T = TypeVar("T")
Save = TypeVar("Save", bound=Callable[..., str | None])


class ButtonForm(OnceMixin, StudioForm):
    """Nothing but the one-time key: a button."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stale = "This page has been open too long. Press the button once more."
        self.fields["once"].error_messages |= {"required": stale, "invalid": stale}


@dataclass(frozen=True)
class Action(Generic[T]):
    """`task` as the thing to do, `button` that saves its form; `noun` when it is done; cautions stand beside the work.

    `make` gives its sheet for the record, bound when data is given. `save` does it and returns what to say, or None
    where `said` always fits. `why_not` says in a sentence why it cannot be done as the record stands; "" when it
    can. `way_on` is the address to go on to, where that is not the record's own page.
    """

    task: str
    button: str = ""
    said: str = ""
    noun: str = ""
    save: Callable[[T, Any, User], str | None] = lambda record, sheet, by: None
    cautions: tuple[str, ...] = ()
    make: Callable[..., Sheet] = lambda record, data=None, **layout: Sheet(ButtonForm(data, auto_id=False))
    why_not: Callable[[T], str] = lambda record: ""
    way_on: Callable[[T], str] | None = None


@dataclass(frozen=True)
class Actions(Generic[T]):
    """Everything that can be done with records of one kind, in the order of their page.

    `find` reads a record by its number and raises Http404; `address` is that of its page.
    """

    find: Callable[[int], T]
    address: Callable[[T], str]
    by_name: dict[str, Action[T]] = field(default_factory=dict)

    def add(
        self, name: str, task: str, button: str = "", said: str = "", **more: Any
    ) -> Callable[[Save], Save]:
        """Declare an action; what is decorated saves it."""

        def declare(save: Save) -> Save:
            self.by_name[name] = Action(task, button, said, save=save, **more)
            return save

        return declare

    def __getitem__(self, name: str) -> Action[T]:
        if name not in self.by_name:
            raise Http404
        return self.by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_name)

    def list_open(
        self, record: T, key: int, asked: str, sheet: Sheet | None, page: str
    ) -> list[dict[str, Any]]:
        """What can be done with a record now, each with its form; open is what was asked for, or refused.

        `page` is the name of the address of an action.
        """
        shown = []
        for name, action in self.by_name.items():
            if action.why_not(record):
                continue
            own = sheet if sheet and name == asked else action.make(record, auto_id=f"id_{name}_%s")
            address = reverse(page, args=[key, name])
            shown.append({"action": action, "address": address, "form": own.form, "is_open": name == asked})
        return shown

    def turn_away(self, request: HttpRequest, record: T, name: str) -> HttpResponse | None:
        """Back to the record's page with the reason, where an action cannot be done as it stands."""
        sentence = self[name].why_not(record)
        if not sentence:
            return None
        messages.warning(request, sentence)
        return redirect(self.address(record))

    def open(
        self, request: HttpRequest, record: T, key: int, name: str
    ) -> tuple[Sheet | None, HttpResponse | None]:
        """The sheet of an action that is asked for, and the answer where there is one: turned away, or saved."""
        if not name:
            return None, None
        turned_away = self.turn_away(request, record, name)
        if turned_away is not None:
            return None, turned_away
        sheet = self[name].make(record, sent(request))
        return sheet, self.answer(request, key, name, sheet)

    def answer(self, request: HttpRequest, key: int, name: str, sheet: Sheet) -> HttpResponse | None:
        """Save what was sent in and lead on; None to show the page."""

        def save() -> str:
            # Read again inside the posting's transaction: another window may have done something with it meanwhile.
            record, action = self.find(key), self[name]
            sentence = action.why_not(record)
            if sentence:
                raise Refused(sentence)
            said = action.save(record, sheet, signed_in_user(request))
            messages.success(request, said or action.said)
            return (action.way_on or self.address)(record)

        return answer(sheet, save)
