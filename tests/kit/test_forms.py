import re
import uuid

import pytest
from django import forms
from django.contrib.auth.models import Group, Permission
from django.db.models.fields import BLANK_CHOICE_DASH
from django.http import HttpResponse
from django.template import Context, Template
from django.test import override_settings
from django.urls import path

from studio.kit import fields
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm, list_mistakes
from studio.kit.printing import SPACE

urlpatterns = [path("understood/", lambda request: HttpResponse(""), name="understood")]
pytestmark = pytest.mark.usefixtures("own_addresses")


@pytest.fixture
def own_addresses():
    with override_settings(ROOT_URLCONF=__name__):
        yield


class ChargeForm(OnceMixin, StudioForm):
    mass = fields.MassField(label="Charge", minimum=1, help_text="As the balance shows it.")
    fineness = fields.FinenessField(required=False)
    alloy = forms.ChoiceField(choices=[("ag", "Sterling"), ("cu", "Bronze")])
    way = forms.ChoiceField(choices=[("a", "A"), ("b", "B")], widget=forms.RadioSelect)
    dry = forms.BooleanField(label="The flask is dry")
    note = fields.NoteField(required=False)

    def clean(self):
        if self.cleaned_data.get("note") == "no":
            raise forms.ValidationError("The two do not agree. Change one.")


GOOD = {"mass": "8 dwt", "alloy": "ag", "way": "a", "dry": "on", "once": str(uuid.uuid4())}


def tag(html, **attrs):
    """The one start tag that carries all the attributes."""
    found = [
        one
        for one in re.findall(r"<[a-z0-9]+[^>]*>", html)
        if all(f'{n}="{v}"' in one for n, v in attrs.items())
    ]
    assert len(found) == 1, (attrs, found)
    return found[0]


def bound(**changes):
    return ChargeForm({**GOOD, **changes})


def test_a_good_form_gives_small_units():
    form = bound()
    assert form.is_valid(), form.errors
    assert form.cleaned_data["mass"] == 12_441


def test_a_field_shows_what_it_understood():
    html = str(bound())
    assert f'id="id_mass-understood" aria-live="polite">12.441{SPACE}g</p>' in html


def test_a_field_shows_what_it_was_given_to_begin_with():
    form = ChargeForm(initial={"mass": 1_234_500})
    assert f">1,234.50{SPACE}g</p>" in str(form)
    assert 'value="1234.5 g"' in str(form)


def test_a_field_that_was_refused_keeps_what_was_typed_and_claims_nothing():
    html = str(bound(mass="3.1 oz"))
    assert 'value="3.1 oz"' in html
    assert 'aria-live="polite"></p>' in html


def test_an_input_asks_what_it_means_while_typing():
    one = tag(str(ChargeForm(prefix="a")), name="a-mass")
    assert 'hx-get="/understood/"' in one
    assert 'hx-target="#id_a-mass-understood"' in one
    assert 'hx-trigger="input changed delay:300ms"' in one
    assert (
        "{&quot;kind&quot;: &quot;mass&quot;, &quot;field&quot;: &quot;a-mass&quot;, &quot;minimum&quot;: 1}"
        in one
    )
    assert 'inputmode="decimal"' in one
    assert 'autocomplete="off"' in one


def test_an_input_names_its_help_its_line_and_its_error():
    assert 'aria-describedby="id_mass_helptext id_mass-understood"' in tag(str(ChargeForm()), name="mass")
    one = tag(str(bound(mass="x")), name="mass")
    assert 'aria-describedby="id_mass_helptext id_mass_error id_mass-understood"' in one
    assert 'aria-invalid="true"' in one


def test_every_id_that_is_pointed_at_is_there():
    html = str(ChargeForm({}))
    ids = re.findall(r' id="([^"]+)"', html)
    pointed = re.findall(r'aria-describedby="([^"]+)"', html)
    pointed += re.findall(r'(?:href|hx-target)="#([^"]+)"', html) + re.findall(r'for="([^"]+)"', html)
    assert {name for names in pointed for name in names.split()} <= set(ids)
    assert len(ids) == len(set(ids))


def test_the_first_mistake_gets_the_cursor():
    html = str(bound(mass="x", alloy="zz"))
    assert html.count("autofocus") == 1
    assert "autofocus" in tag(html, name="mass")


def test_nothing_gets_the_cursor_on_a_fresh_page():
    assert "autofocus" not in str(ChargeForm())


def test_mistakes_are_listed_on_top_and_lead_to_their_fields():
    html = str(bound(mass="x", alloy="zz", note="no"))
    assert "3 things to mend" in html
    assert '<a href="#id_mass">Charge</a>: This cannot be read.' in html
    assert "<li>The two do not agree. Change one.</li>" in html


def test_one_mistake_is_counted_as_one():
    assert "One thing to mend" in str(bound(mass="x"))


def test_a_fresh_form_lists_no_mistakes():
    assert "to mend" not in str(ChargeForm())
    assert list_mistakes(ChargeForm()) == []


def test_every_sentence_is_our_own():
    form = ChargeForm({"alloy": "zz", "way": ""})
    said = {name: messages[0] for name, messages in form.errors.items()}
    assert said == {
        "mass": "Write a mass such as 12.4 g.",
        "alloy": "Choose one that is in the list.",
        "way": "Choose one.",
        "dry": "Tick this to go on.",
        "once": "This page has been open too long. Open it again and write this once more.",
    }


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        (forms.IntegerField(), "x", "Write a whole number."),
        (forms.IntegerField(max_value=5), "6", "Write 5 or less."),
        (forms.IntegerField(min_value=2), "1", "Write 2 or more."),
        (forms.CharField(max_length=3), "abcd", "This is too long. Write at most 3 characters."),
        (forms.CharField(), "", "Write something here."),
        (forms.CharField(), "a\x00", "Take out the characters that cannot be printed."),
        (forms.CharField(), "x" * 2001, "This is too long. Write at most 2000 characters."),
        (forms.CharField(error_messages={"required": "Name it."}), "", "Name it."),
        (forms.TimeField(), "25:00", "This time cannot be read. Write it as 14:30."),
        (forms.MultipleChoiceField(choices=[("a", "A")]), "", "Choose at least one."),
    ],
)
def test_plain_fields_speak_plainly_too(field, typed, sentence):
    form = type("One", (StudioForm,), {"one": field})({"one": typed})
    assert form.errors["one"][0] == sentence


class GroupForm(StudioModelForm):
    class Meta:
        model = Group
        fields = ("name",)


@pytest.mark.django_db
def test_a_name_already_taken_says_so_plainly():
    Group.objects.create(name="Bench")
    assert GroupForm({"name": "Bench"}).errors["name"] == ["This is already in use. Write another."]


def test_a_models_own_text_field_keeps_to_its_length_and_to_print():
    assert GroupForm({"name": "x" * 151}).errors["name"] == [
        "This is too long. Write at most 150 characters."
    ]
    assert GroupForm({"name": "a\x1bb"}).errors["name"] == ["Take out the characters that cannot be printed."]


@pytest.mark.django_db
def test_a_choice_not_made_yet_is_no_row_of_dashes():
    class OfAKind(StudioModelForm):
        kind = forms.ChoiceField(choices=[*BLANK_CHOICE_DASH, ("a", "One kind")])

        class Meta:
            model = Permission
            fields = ("content_type",)

    assert [next(iter(field.choices))[1] for field in OfAKind().fields.values()] == ["Choose", "Choose"]


def test_one_forms_words_do_not_leak_into_anothers():
    class Plain(forms.Form):
        one = forms.CharField()

    StudioForm({})
    assert Plain({}).errors["one"] == ["This field is required."]


def test_hostile_text_is_shown_as_text():
    html = str(bound(mass='"><script>alert(1)</script>', note="</textarea><b>"))
    assert "<script" not in html
    assert "</textarea><b>" not in html


def test_no_style_or_script_stands_in_a_form():
    html = str(ChargeForm({}))
    assert " style=" not in html
    assert not re.search(r"\son[a-z]+=", html)
    assert "<script" not in html


def test_what_is_optional_is_marked_and_what_is_needed_is_said_to_machines():
    html = str(ChargeForm())
    assert html.count("optional</small>") == 2
    assert 'aria-required="true"' in tag(html, name="mass")
    assert " required" not in tag(html, name="mass").replace("aria-required", "")


def test_a_form_of_filters_marks_nothing_as_optional():
    class Filters(StudioForm):
        marks_optional = False
        word = fields.LineField(required=False)

    assert "optional" not in str(Filters())


def test_choices_stand_in_a_group_with_a_name():
    assert re.search(r'<fieldset class="field"[^>]*>\s*<legend>Way', str(ChargeForm()))


def test_the_key_is_new_on_every_page_and_kept_on_a_refused_one():
    keys = {tag(str(ChargeForm()), name="once", type="hidden") for _ in range(2)}
    assert len(keys) == 2
    refused = bound(mass="x")
    assert f'value="{GOOD["once"]}"' in tag(str(refused), name="once")


def test_the_key_is_given_back_as_sent():
    form = bound()
    assert form.is_valid()
    assert form.once_key == uuid.UUID(GOOD["once"])


@pytest.mark.parametrize("sent", ["", "x", "0" * 400, "\x00"])
def test_a_broken_key_is_a_sentence_not_a_crash(sent):
    form = bound(once=sent)
    assert "open too long" in str(form)


def test_a_field_may_be_placed_by_hand():
    template = Template('{% include "kit/field.html" with field=form.mass %}')
    assert 'id="id_mass-understood"' in template.render(Context({"form": ChargeForm()}))


def test_a_field_of_any_other_form_can_be_laid_out_too():
    class Plain(forms.Form):
        one = forms.CharField(help_text="Help.")

    html = Template('{% include "kit/field.html" with field=form.one %}').render(Context({"form": Plain()}))
    assert 'id="id_one_helptext"' in html


def test_rows_of_fields_keep_their_own_lines():
    rows = forms.formset_factory(ChargeForm, extra=2)()
    assert all(f'id="id_form-{place}-mass-understood"' in str(row) for place, row in enumerate(rows))
