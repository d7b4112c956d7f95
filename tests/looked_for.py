"""Notes what the program looks for in an address's question and in what a form sends, and which forms it reads.

A name that nobody looks for can break nothing, and a form that was read can read other values without its page.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, ClassVar

import pytest
from django.forms.forms import BaseForm
from django.http import QueryDict


@dataclass
class LookedFor:
    """All names, those that more than the own field of a form looked for, and the forms that read what was sent."""

    names: set[str] = field(default_factory=set)
    by_hand: set[str] = field(default_factory=set)
    forms: list[BaseForm] = field(default_factory=list)
    #: Whether anything took the address's question into its hand.
    is_question_used: bool = False


class _Noting(QueryDict):
    looked_for: ClassVar = LookedFor()
    #: Above 0 while a form's field takes what was sent for it, or while one of these is made.
    in_field = in_making = 0

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        with _counted("in_making"):
            super().__init__(*args, **kwargs)

    def _note(self, name: object) -> None:
        if not _Noting.in_making:
            self.looked_for.names.add(str(name))
            if not _Noting.in_field:
                self.looked_for.by_hand.add(str(name))

    def __getitem__(self, name: str) -> Any:
        self._note(name)
        return super().__getitem__(name)

    def getlist(self, name: str, default: Any = None) -> Any:
        self._note(name)
        return super().getlist(name, default)

    def __contains__(self, name: object) -> bool:
        self._note(name)
        return super().__contains__(name)


class _Question(_Noting):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.looked_for.is_question_used = True


@contextmanager
def _counted(name: str) -> Iterator[None]:
    setattr(_Noting, name, getattr(_Noting, name) + 1)
    try:
        yield
    finally:
        setattr(_Noting, name, getattr(_Noting, name) - 1)


@contextmanager
def noted() -> Iterator[LookedFor]:
    """What is looked for meanwhile."""
    found = LookedFor()
    take, clean = BaseForm._widget_data_value, BaseForm.full_clean

    def take_for_field(form: BaseForm, *args: Any) -> Any:
        with _counted("in_field"):
            return take(form, *args)

    def clean_noted(form: BaseForm) -> None:
        if form.is_bound and form not in found.forms:
            found.forms.append(form)
        clean(form)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_Noting, "looked_for", found)
        patch.setattr("django.core.handlers.wsgi.QueryDict", _Question)
        patch.setattr("django.http.request.QueryDict", _Noting)
        patch.setattr(BaseForm, "_widget_data_value", take_for_field)
        patch.setattr(BaseForm, "full_clean", clean_noted)
        yield found
