"""Whatever somebody else posts between a page's reading and its posting, the books stay right, on both databases."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection, transaction

from inventory.models import CastingDay, Entry, Firing, Lot, Plan, Studio
from inventory.posting.casting_records import assign_firing, strike_out_firing
from inventory.posting.kinds import KINDS
from inventory.posting.pieces import post_melt_back, post_sale
from inventory.posting.planning import post_begin, save_plan, set_hold
from inventory.posting.refusal import Refused
from inventory.queries.plan_figures import work_out
from inventory.queries.shelf import promised
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.hands import BY_KIND, HANDS, Hand, Scene, touched_by
from tests.support import problems
from tests.thorough import TIMES

pytestmark = pytest.mark.django_db


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def scene() -> Scene:
    w.make_studio()
    return Scene()


def post(act) -> bool:
    """Whether it was posted: Refused is an answer, anything else is a fault."""
    try:
        with transaction.atomic():
            done = act()
    except Refused as refused:
        assert refused.sentence.endswith(".")
        return False
    if isinstance(done, Entry):
        assert done.pk is not None, "an entry was returned that nobody wrote"
    return True


def ends_of(hand: Hand, scene: Scene) -> set[tuple[str, int]]:
    """What a hand by itself touches."""
    with undone():
        newest = Entry.objects.order_by("-pk").values_list("pk", flat=True).first()
        post(hand.read(scene))
        return {end for entry in Entry.objects.filter(pk__gt=newest) for end in touched_by(entry)} or {
            ("", 0)
        }


def test_every_kind_of_entry_is_declared_and_shows_its_hand():
    assert set(KINDS) == set(BY_KIND) == set(Entry.Kind) - {Entry.Kind.REVERSAL}
    assert len(HANDS) == 3 * len(BY_KIND)


def test_the_scene_is_sound_and_has_an_entry_of_every_kind(scene):
    assert set(scene.entries) == {kind.value for kind in BY_KIND}
    assert problems() == []


def _is_tried_here(first: Hand, second: Hand) -> bool:
    """Who mends first has reversed and posted, which the other hands do; who mends last must see what they did.

    What is judged anew is the same on both databases, so pairs of two kinds are tried on one of them, every fourth on
    SQLite and every sixteenth on PostgreSQL; of those with a mend, which are many, a third of that. Whoever meets his
    own kind is tried on both, and all pairs by hand, when the tests are to be thorough.
    """
    if TIMES > 1:
        return True
    mended = first.name.removeprefix("mending of ")
    if mended != first.name:
        return second.name.endswith(mended)
    if second.name.endswith(first.name):
        return True
    each = 12 if second.name.startswith("mending of ") else 4
    place = HANDS.index(first) + HANDS.index(second)
    return place % (4 * each) == each // 2 if connection.vendor == "postgresql" else place % each == 0


def test_what_was_read_before_another_posted_is_judged_anew(scene):
    touched = {hand.name: ends_of(hand, scene) for hand in HANDS}
    wrong, raced = {}, set()
    for first in HANDS:
        met = [one for one in HANDS if touched[first.name] & touched[one.name] and _is_tried_here(first, one)]
        with undone():
            late = [(second, second.read(scene)) for second in met]
            post(first.read(scene))
            for second, act in late:
                with undone():
                    if post(act) and (found := problems()):
                        wrong[first.name, second.name] = found
        if met:
            raced |= {hand.name for hand in (first, *met)}
    assert wrong == {}
    assert raced == {hand.name for hand in HANDS}, "a hand that meets nothing, not even itself"


def test_a_piece_that_was_melted_meanwhile_is_not_sold(scene):
    piece = scene.Leaf
    post_melt_back(scene.Leaf, w.DAY)
    with pytest.raises(Refused, match="Leaf is back in the pot"):
        post_sale(piece, w.DAY)


class TestPromises:
    @pytest.fixture(autouse=True)
    def shelf(self):
        w.make_studio()
        plans.stock(fresh="100")

    def held_mg(self) -> int:
        return promised().get(Lot.objects.get(material=w.grain()).pk, 0)

    def test_two_people_do_not_promise_the_same_metal(self):
        mine, theirs = (work_out(plans.draft(), Studio.objects.get()) for _ in range(2))
        assert mine.metal.charge_mg == w.g("66.48")
        save_plan(mine)
        with pytest.raises(Refused, match=r"33\.52.g is free; other plans hold the rest"):
            save_plan(theirs)
        assert (Plan.objects.count(), self.held_mg()) == (1, w.g("66.48"))

    def test_a_plan_that_was_let_go_does_not_hold_again_what_another_took(self):
        first = plans.plan()
        set_hold(first, False)
        plans.plan()
        with pytest.raises(Refused, match="other plans hold the rest"):
            set_hold(first, True)
        assert self.held_mg() == w.g("66.48")


class TestFirings:
    def test_a_firing_that_was_taken_out_meanwhile_is_not_chosen(self, scene):
        firing = w.fire()
        strike_out_firing(Firing.objects.get())
        with pytest.raises(Refused, match="not there any more"):
            assign_firing(scene.opened, firing)
        with pytest.raises(Refused, match="not there any more"):
            w.cast_metal([(scene.metal, 1)], [w.piece("Leaf", 1)], firing=firing)

    def test_a_day_that_was_fired_meanwhile_takes_no_more_flasks(self):
        w.make_studio()
        plans.stock()
        plan = plans.plan()
        read_before = CastingDay.objects.get()
        assign_firing(post_begin(plan), w.fire())
        with pytest.raises(Refused, match="This kiln session has been recorded"):
            save_plan(work_out(plans.draft(), Studio.objects.get()), day=read_before)
        assert CastingDay.objects.get().firing is not None
