"""What a cast owes for the tools it wore and for the firing it shared."""

from dataclasses import replace

from costing.core.wear import CastUse, FiringUse, ToolUse
from inventory.core.energy import compute_energy_from_meter

# 50.00 for 50 uses: 1.00 for each.
CRUCIBLE = ToolUse("crucible", "casts", 50_000_000, 0, 50, 3, 1)
# 720.00 for 7,200 minutes: 0.10 a minute, so 72.00 for 12 h.
KILN = ToolUse("kiln", "minutes", 720_000_000, 0, 7_200, 0, 720)
# 12 kWh at 0.25 is 3.00; a third of the space has a third of it.
FIRING = FiringUse(compute_energy_from_meter(100_000, 112_000), 250_000, KILN, (1_000, 2_000), 0)


def test_a_tool_wears_when_its_price_and_life_are_known_and_it_loses_worth():
    assert CRUCIBLE.wears and CRUCIBLE.cost_micro == 1_000_000
    assert not replace(CRUCIBLE, life_uses=None).wears
    assert not replace(CRUCIBLE, life_uses=0).wears
    assert not replace(CRUCIBLE, end_value_micro=50_000_000).wears
    assert replace(CRUCIBLE, end_value_micro=49_999_999).wears
    assert replace(CRUCIBLE, life_uses=1, used_before=0).wears
    assert CRUCIBLE.working.title == "Wear of crucible (casts)"


def test_a_firing_is_shared_by_the_space_of_the_flasks():
    assert FIRING.energy_shares_micro == [1_000_000, 2_000_000]
    assert FIRING.kiln_shares_micro == [24_000_000, 48_000_000]


def test_a_cast_pays_for_its_own_flask_and_its_own_tools():
    unknown = replace(CRUCIBLE, label="flask", life_uses=None)
    use = CastUse(FIRING, (CRUCIBLE, unknown))
    assert use.energy_micro == 1_000_000
    assert use.wear == (("kiln", 24_000_000), ("crucible", 1_000_000))
    other = CastUse(replace(FIRING, which=1), (CRUCIBLE,))
    assert other.energy_micro == 2_000_000
    assert other.wear == (("kiln", 48_000_000), ("crucible", 1_000_000))


def test_without_a_firing_there_are_only_the_tools():
    assert CastUse().wear == () and CastUse().energy_micro == 0 and CastUse().workings == ()
    assert CastUse(tools=(CRUCIBLE,)).wear == (("crucible", 1_000_000),)


def test_a_kiln_without_a_life_is_not_worn():
    use = CastUse(replace(FIRING, kiln=replace(KILN, life_uses=None)), ())
    assert use.wear == ()
    assert [working.title for working in use.workings] == [
        "Energy of the firing",
        *[working.title for working in CastUse(FIRING).workings[1:3]],
    ]


def test_every_cost_opens_to_its_sum_in_the_order_in_which_it_came_about():
    workings = CastUse(FIRING, (CRUCIBLE, replace(CRUCIBLE, life_uses=None))).workings
    assert [working.result.replace("\u00a0", " ") for working in workings] == [
        "12 kWh",
        "3.0000",
        "1.0000",
        "72.0000",
        "24.0000",
        "1.0000",
    ]
    assert workings[3].title == "Wear of kiln (minutes)"
    assert workings[4].title != workings[2].title
    unknown = CastUse(replace(FIRING, energy=replace(FIRING.energy, work=None)))
    assert len(unknown.workings) == 4
