"""The form that every page uses: one layout, errors that say how to mend them, and a key against posting twice."""

import json
import uuid
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.validators import MaxLengthValidator
from django.db.models.fields import BLANK_CHOICE_DASH
from django.forms.boundfield import BoundField
from django.forms.renderers import DjangoTemplates
from django.template.loader import get_template
from django.urls import reverse
from django.utils.functional import Promise

from studio.kit.doubts import Doubt, doubt_of
from studio.kit.fields import NOTE_MAX, ReadField, RecordsField, refuse_unprintable
from studio.kit.inputs import WRITTEN

FIXED_MEANWHILE = "This was fixed while the page was open, so it stays as it was. Open the page again."
STALE_PAGE = "This page has been open too long. Open it again and write this once more."

# The first kind that fits a field speaks for it.
_SENTENCES: tuple[tuple[type[forms.Field], dict[str, str]], ...] = (
    (
        RecordsField,
        {
            "required": "Choose at least one.",
            "invalid_list": "Choose from the list.",
            "invalid_choice": "Choose from the list: one of these is no longer there.",
            "invalid_pk_value": "Choose from the list.",
        },
    ),
    (
        forms.MultipleChoiceField,
        {
            "required": "Choose at least one.",
            "invalid_list": "Choose from the list.",
            "invalid_choice": "Choose from the list: one of these is not in it.",
        },
    ),
    (forms.ChoiceField, {"required": "Choose one.", "invalid_choice": "Choose one that is in the list."}),
    (forms.BooleanField, {"required": "Tick this to go on."}),
    (
        forms.TimeField,
        {
            "required": "Write a time such as 14:30.",
            "invalid": "This time cannot be read. Write it as 14:30.",
        },
    ),
    (
        forms.IntegerField,
        {
            "required": "Write a whole number.",
            "invalid": "Write a whole number.",
            "min_value": "Write %(limit_value)s or more.",
            "max_value": "Write %(limit_value)s or less.",
        },
    ),
    (forms.Field, {}),
)
_FOR_ANY_FIELD = {
    "required": "Write something here.",
    "max_length": "This is too long. Write at most %(limit_value)d characters.",
    "min_length": "This is too short. Write at least %(limit_value)d characters.",
    "null_characters_not_allowed": "Take out the characters that cannot be printed.",
    "unique": "This is already in use. Write another.",
}


class KitRenderer(DjangoTemplates):
    """Takes the kit's templates from the project and the widgets from Django, the common ones written straight."""

    form_template_name = "kit/form.html"
    field_template_name = "kit/field.html"

    def get_template(self, template_name: str) -> Any:
        if template_name.startswith("kit/"):
            return get_template(template_name)
        return super().get_template(template_name)

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        write = WRITTEN.get(template_name)
        return write(context["widget"]) if write else super().render(template_name, context, request)


class StudioBoundField(BoundField):
    """A field on a form, with what it understood so far."""

    @property
    def is_optional(self) -> bool:
        """Whether it says that it may stay empty."""
        marks, needed = getattr(self.form, "marks_optional", False), getattr(self.form, "one_needed", ())
        return bool(marks) and not self.field.required and self.name not in needed

    @property
    def understood_id(self) -> str:
        return f"{self.auto_id}-understood" if isinstance(self.field, ReadField) and self.auto_id else ""

    @property
    def unit(self) -> str:
        """The unit of a bare number, where it stands beside the field."""
        if not isinstance(self.field, ReadField) or not self.field.shows_unit:
            return ""
        return str(self.field.measure.symbol)

    @property
    def understood(self) -> str:
        """The printed figure that was read, or nothing."""
        if not isinstance(self.field, ReadField) or self.errors:
            return ""
        if self.form.is_bound:
            return self.field.tell(self.form.cleaned_data.get(self.name))
        return self.field.tell(self.initial)

    @property
    def asked(self) -> list[Doubt]:
        """What is asked about it before it is taken."""
        return getattr(self.form, "asked", {}).get(self.name, [])

    @property
    def aria_describedby(self) -> str | None:
        described = super().aria_describedby
        if described is None or not self.understood_id or self.is_hidden:
            return described
        return f"{described} {self.understood_id}".strip()

    def build_widget_attrs(
        self, attrs: dict[str, str | bool], widget: forms.Widget | None = None
    ) -> dict[str, str | bool]:
        attrs = super().build_widget_attrs(attrs, widget)
        if (widget or self.field.widget).is_hidden:
            return attrs
        if self.field.required and not self.use_fieldset:
            attrs["aria-required"] = "true"
        if not self.use_fieldset and _first_mistake(self.form) == self.name:
            attrs["autofocus"] = True
        if getattr(self.form, "enter_goes_on", False) and isinstance(
            widget or self.field.widget, forms.TextInput
        ):
            attrs["enterkeyhint"] = "next"
        if self.understood_id and isinstance(self.field, ReadField):
            attrs["hx-get"] = reverse("understood")
            attrs["hx-trigger"] = "input changed delay:300ms"
            attrs["hx-target"] = f"#{self.understood_id}"
            attrs["hx-vals"] = json.dumps(
                {"kind": self.field.kind, "field": self.html_name, **self.field.bounds}
            )
        return attrs


class _StudioLayout(forms.BaseForm):
    """What StudioForm and StudioModelForm share.

    `marks_optional` is off where every field may stay empty; of the fields in `one_needed` one at least is to be
    filled, so none of them says that it may stay empty. `enter_goes_on` is off where Enter may send the form: it
    changes nothing.
    """

    default_renderer = KitRenderer()
    bound_field_class = StudioBoundField
    # The browser's own bubbles would speak before our sentences do.
    use_required_attribute = False
    marks_optional = True
    one_needed: Sequence[str] = ()
    enter_goes_on = True

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            _name_no_choice(field)
            _speak_plainly(field)
            _bound_text(field)
        #: What is asked before the form is taken, by the name of the field.
        self.asked: dict[str, list[Doubt]] = {}

    def doubts(self) -> dict[str, str]:
        """What is out of the ordinary in a form that was found right: a sentence by the name of its field."""
        return {}

    def ask(self, name: str, sentence: str, ticks: Iterable[str]) -> bool:
        """Put a doubt beside a field; whether it is still to be answered."""
        doubt = doubt_of(sentence, ticks)
        self.asked.setdefault(name, []).append(doubt)
        return not doubt.is_answered

    def get_context(self) -> dict[str, Any]:
        mistakes = mend_first(list_mistakes(self))
        return {**super().get_context(), "mistakes": mistakes}


class StudioForm(_StudioLayout, forms.Form):
    """A form that writes no model by itself."""


class StudioModelForm(_StudioLayout, forms.ModelForm):
    """A form for one model. What is fixed by now and sent all the same is refused, not quietly left as it was."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            name_blank(field)

    def _clean_fields(self) -> None:
        super()._clean_fields()  # type: ignore[misc]  # the stubs do not know it
        for name, field in self.fields.items():
            typed = self.data.get(self.add_prefix(name)) if field.disabled else ""
            fixed = self.get_initial_for_field(field, name)
            if typed and typed != str("" if fixed is None else field.prepare_value(fixed)):
                self.add_error(name, FIXED_MEANWHILE)


def name_blank(field: forms.Field) -> None:
    """Have a choice that nobody made yet say so in a word, where Django puts a row of dashes."""
    dashes = BLANK_CHOICE_DASH[0]
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == dashes[1]:
            field.empty_label = "Choose"
    elif isinstance(field, forms.ChoiceField):
        choices: Any = field.choices
        if dashes in choices:
            field.choices = [("", "Choose") if pair == dashes else pair for pair in choices]


class OnceMixin(forms.BaseForm):
    """Adds the hidden one-time key `once`: the same page sent twice is posted once. Stands before the form class."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["once"] = forms.UUIDField(
            initial=uuid.uuid4,
            widget=forms.HiddenInput,
            error_messages={"required": STALE_PAGE, "invalid": STALE_PAGE},
        )

    @property
    def once_key(self) -> uuid.UUID:
        """The key of a form that was found valid."""
        key: uuid.UUID = self.cleaned_data["once"]
        return key


def list_mistakes(form: forms.BaseForm) -> list[dict[str, str]]:
    """Every mistake of a bound form in the order of the page: target (element id or ""), label, sentence.

    And what is asked about instead, which has `asked` beside these.
    """
    mistakes = [{"target": "", "label": "", "sentence": str(error)} for error in form.non_field_errors()]
    for field in form:
        shown = not field.is_hidden
        mistakes += [
            {
                "target": field.auto_id if shown else "",
                "label": str(field.label) if shown else "",
                "sentence": str(error),
            }
            for error in field.errors
        ]
        mistakes += [
            {"target": field.auto_id, "label": str(field.label), "sentence": doubt.sentence, "asked": "1"}
            for doubt in getattr(field, "asked", ())
        ]
    return mistakes


def mend_first(mistakes: Iterable[dict[str, str]]) -> list[dict[str, str]]:
    """What is wrong alone, and only where nothing is, what is asked: a question is no matter until it can be saved."""
    found = list(mistakes)
    return [one for one in found if "asked" not in one] or found


def _first_mistake(form: forms.BaseForm) -> str:
    if not form.is_bound:
        return ""
    wrong = form.errors
    return next(
        (name for name, field in form.fields.items() if name in wrong and not field.widget.is_hidden), ""
    )


def _speak_plainly(field: forms.Field) -> None:
    """Replace Django's own words, which are the lazy ones; sentences given by a form stay."""
    fitting = next(sentences for kind, sentences in _SENTENCES if isinstance(field, kind))
    for code, sentence in {**_FOR_ANY_FIELD, **fitting}.items():
        said = field.error_messages.get(code)
        if said is None or isinstance(said, Promise):
            field.error_messages[code] = sentence


def _name_no_choice(field: forms.Field) -> None:
    """Put a word in the place of Django's dashes, where nothing is chosen yet."""
    word, dashes = "Choose" if field.required else "none", BLANK_CHOICE_DASH[0]
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == dashes[1]:
            field.empty_label = word
    elif isinstance(field, forms.ChoiceField):
        choices = list(field.widget.choices)
        if choices and choices[0] == dashes:
            field.choices = [("", word), *choices[1:]]


def _bound_text(field: forms.Field) -> None:
    """Text fields that a model made by itself get the bounds that LineField and NoteField have."""
    if type(field) is not forms.CharField:
        return
    field.validators.append(refuse_unprintable)
    if field.max_length is None:
        field.max_length = NOTE_MAX
        field.validators.append(MaxLengthValidator(NOTE_MAX))
        field.widget.attrs.setdefault("maxlength", str(NOTE_MAX))
