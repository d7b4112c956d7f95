"""What is written straight is what Django's own templates write, to the byte."""

from typing import Any

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates

from studio.kit.forms import KitRenderer
from studio.kit.inputs import WRITTEN

HOSTILE = {"title": 'a "word" & <b>', "autofocus": True, "readonly": False, "maxlength": 12, "data-x": ""}
CHOICES = [
    ("", "Choose"),
    ("<1>", 'Leaf & "bud"'),
    (2, 3),
    ("Metal's", [(5, "Grain"), ("6", "<i>Wire</i>")]),
    ("None", []),
]
WIDGETS = (
    (forms.TextInput, None),
    (forms.TextInput, '5 "g" <'),
    (forms.NumberInput, 1234567),
    (forms.HiddenInput, ""),
    (forms.EmailInput, "a@b"),
    (forms.PasswordInput, "secret"),
    (forms.DateInput, "2026-10-01"),
    (forms.TimeInput, "06:30"),
    (forms.DateTimeInput, "x"),
    (forms.CheckboxInput, True),
    (forms.CheckboxInput, "on"),
)


@pytest.mark.parametrize(("kind", "value"), WIDGETS)
@pytest.mark.parametrize("attrs", [{}, HOSTILE])
def test_an_input_is_written_as_django_writes_it(kind: type[forms.Widget], value: Any, attrs: Any) -> None:
    assert kind.template_name in WRITTEN
    assert_same(kind(attrs), value)


@pytest.mark.parametrize("value", ["", None, 2, "5", "<1>"])
def test_a_choice_is_written_as_django_writes_it(value: Any) -> None:
    assert_same(forms.Select(HOSTILE, CHOICES), value)
    assert_same(forms.Select(choices=[]), value)


def assert_same(widget: forms.Widget, value: Any) -> None:
    written, expected = (
        widget.render('a "name"', value, {"id": "id_<a>"}, renderer)
        for renderer in (KitRenderer(), DjangoTemplates())
    )
    assert written == expected
    assert written.startswith("<")
