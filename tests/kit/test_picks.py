"""A choice among records that were read once."""

import pytest

from studio.kit.forms import StudioForm
from studio.kit.picks import Options, PickField


class Tin:
    def __init__(self, name: str) -> None:
        self.name = name


SILVER, GOLD = Tin("Tin 3"), Tin("Tin <4>")


def offer_tins() -> Options:
    options = Options("Choose a tin")
    options.add("new", "a new tin", "new")
    options.add("tin-3", SILVER.name, SILVER, "Silver")
    options.add("tin-4", GOLD.name, GOLD, "Gold")
    return options


class TinForm(StudioForm):
    tin = PickField(label="Tin")

    def __init__(self, *args: object, options: Options | None = None, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tin"].offer(options or offer_tins())


def test_the_record_that_was_chosen_is_the_one_that_was_read():
    form = TinForm({"tin": "tin-4"})
    assert form.is_valid() and form.cleaned_data["tin"] is GOLD


def test_records_stand_under_their_headings_with_the_chosen_one_selected():
    html = str(TinForm({"tin": "tin-4"})["tin"])
    assert '<option value="">Choose a tin</option><option value="new">a new tin</option><optgroup' in html
    assert '<optgroup label="Gold"><option value="tin-4" selected>Tin &lt;4&gt;</option></optgroup>' in html


def test_a_record_can_be_suggested():
    assert '<option value="tin-3" selected>' in str(TinForm(initial={"tin": SILVER})["tin"])
    assert 'value="" selected' in str(TinForm(initial={"tin": Tin("put away")})["tin"])


@pytest.mark.parametrize("typed", ["tin-5", "x", "99999999999999999999", "Tin 3"])
def test_a_choice_that_is_not_offered_is_refused(typed):
    assert TinForm({"tin": typed}).errors == {"tin": ["Choose one that is in the list."]}


def test_a_needed_choice_asks_for_one():
    assert TinForm({"tin": ""}).errors == {"tin": ["Choose one."]}


def test_an_option_can_be_left_out():
    form = TinForm({"tin": "new"}, options=offer_tins().without("new"))
    assert "a new tin" not in str(form["tin"]) and not form.is_valid()


def test_what_one_form_offers_is_not_offered_by_another():
    TinForm()
    assert not TinForm(options=Options()).fields["tin"].options.records
    assert "Silver" not in str(TinForm(options=Options())["tin"])
