"""Figures that say whether the person set them."""

import copy
import pickle

import pytest
from django.utils import timezone

from costing.models import Policy
from costing.queries.policy import policy_input, price_rules
from inventory.core.reclaim import compute_reclaim_allowance
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import DayPractice, Studio
from inventory.queries.plan_figures import work_out
from inventory.queries.studio import charge_rules, current_practice, current_studio
from studio.kit.working import Setting, Source, origin_of
from tests import workshop as w
from tests.inventory import plans


def test_a_setting_is_a_plain_number_to_reckon_with():
    figure = Setting(7, Source.OWN_SETTING)
    assert (figure, figure + 1, type(figure + 1)) == (7, 8, int)
    assert origin_of(copy.copy(figure)) == origin_of(pickle.loads(pickle.dumps(figure))) == Source.OWN_SETTING


def test_a_plain_number_claims_nothing():
    assert origin_of(7) == Source.SETTING
    assert origin_of(7, "the plan") == "the plan"


@pytest.mark.django_db
def test_what_nobody_set_is_the_starting_figure_and_what_was_set_is_their_own():
    w.make_studio(scale_division_mg=100)
    studio = current_studio()
    assert origin_of(studio.scale_division_mg) == Source.OWN_SETTING
    assert origin_of(studio.least_fresh_pct100) == Source.STARTING
    assert origin_of(current_practice().over_mix_pct100) == Source.STARTING
    DayPractice.objects.create(pk=1, over_mix_pct100=1_500)
    assert origin_of(current_practice().over_mix_pct100) == Source.OWN_SETTING
    assert origin_of(current_practice().room_c) == Source.STARTING


@pytest.mark.django_db
def test_a_settings_row_is_saved_and_read_back_as_it_was():
    w.make_studio()
    studio = current_studio()
    studio.save()
    assert Studio.objects.filter(scale_division_mg=studio.scale_division_mg).count() == 1


def _origins(*workings):
    return {given.label: given.origin for working in workings for given in working.givens}


@pytest.mark.django_db
def test_workings_say_your_own_setting_only_where_it_was_set():
    w.make_studio(most_melts_milli=3_000)
    plans.stock()
    studio = current_studio()
    worked = work_out(plans.draft(), studio)
    origins = _origins(worked.proposal.working, worked.metal.charge_working)
    assert origins["at least to be fresh"] == origins["step of the scale"] == Source.STARTING
    assert origins["at most"] == Source.OWN_SETTING
    mixed = _origins(worked.powder.mix.working)
    assert mixed["over-mix"] == Source.STARTING
    assert mixed["water for the powder"] == "the powder's own page"
    needed = _origins(worked.metal.needed_working)
    assert needed["more for the button"] == "the plan"
    hours = _origins(worked.timetable.working)
    assert hours["the flasks stand"] == "the casting day"
    tin = compute_reclaim_allowance([], charge_rules(0, studio), []).working
    assert _origins(tin)["at least to be fresh"] == Source.STARTING
    scale = compute_weighing_uncertainty(studio.scale_division_mg, 3).working
    assert _origins(scale)["division of the scale"] == Source.STARTING


@pytest.mark.django_db
def test_cost_rules_that_nobody_wrote_are_starting_figures():
    policy = Policy(from_day=timezone.localdate(), retail_hundredths=350, powder_basis="grams")
    inputs = policy_input(policy)
    assert origin_of(inputs.normal_loss_pct100) == Source.STARTING
    assert inputs.basis_origin_of("powder") == Source.OWN_SETTING
    assert inputs.basis_origin_of("wear") == Source.STARTING
    wholesale, retail = price_rules(policy)
    assert origin_of(wholesale.value_pct100) == Source.STARTING
    assert (retail.value_pct100, origin_of(retail.value_pct100)) == (35_000, Source.OWN_SETTING)
