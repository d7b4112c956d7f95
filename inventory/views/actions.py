"""What can be done with a record: each thing is declared once, and opened, saved and refused the same way.

LOT_ACTIONS = Actions(find_lot, address_of_lot, {"count": Action("Count it", "Set to this", make=..., save=...)})
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from inventory.forms.sheet import Sheet
from inventory.posting.refusal import Refused
from studio.kit.forms import OnceMixin, StudioForm

from .saving import answer, signed_in_user

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
    make: Callable[..., Sheet] = lambda record, data=None: Sheet(ButtonForm(data, auto_id=False))
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

    def turn_away(self, request: HttpRequest, record: T, name: str) -> HttpResponse | None:
        """Back to the record's page with the reason, where an action cannot be done as it stands."""
        sentence = self[name].why_not(record)
        if not sentence:
            return None
        messages.warning(request, sentence)
        return redirect(self.address(record))

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
