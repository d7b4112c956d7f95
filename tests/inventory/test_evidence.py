"""The record of all casts read for the evidence: what failed, what stood written, and when it is too few to tell."""

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.core.evidence import Split, Sure
from inventory.models import CastingDay, CastMoment, Equipment, Lot, Studio
from inventory.posting.casting import PourNotes
from inventory.posting.pieces import post_melt_back
from inventory.posting.planning import note_moment
from inventory.queries.evidence import read_evidence
from tests import workshop as w
from tests.inventory import plans

pytestmark = pytest.mark.django_db


@pytest.fixture
def pot(studio):
    return w.buy(w.grain(), w.g(9_000), 9_000)


def cast(pot, vacuum=280, **more):
    if more.get("failed"):
        more |= {"pieces": [], "back": "99"}
    pieces, back = more.pop("pieces", [w.piece("Leaf", 40)]), more.pop("back", "59.3")
    return w.cast_metal(
        [(pot, 100)], pieces, back=back, pour=PourNotes(vacuum_inhg_tenths=vacuum, note=""), **more
    )


def evidence():
    return read_evidence(Studio.objects.get())


def split_of(name):
    return next(found.split for factor, found in evidence().findings.items() if factor.name == name)


def test_a_studio_of_five_casts_is_told_that_it_is_too_few(pot):
    for _ in range(4):
        cast(pot)
    failed = cast(pot, 170, failed=True)
    read = evidence()
    assert read.too_few.startswith("5 casts are too few to tell")
    assert {one.sure for one in read.findings.values()} == {Sure.TOO_FEW}
    [cause] = read.causes_of(failed.pk)
    assert cause.words == "the vacuum was low, 17 inHg where 28 is usual"
    assert read_evidence(Studio.objects.get()).causes_of(0) == []


def test_a_cast_failed_where_any_casting_of_it_did(pot):
    good, melted, weighed = cast(pot), cast(pot), cast(pot, back="40", failed_mg=w.g("19.3"))
    whole = cast(pot, failed=True)
    post_melt_back(melted.pieces.get(), w.DAY, "a pit")
    failed = {pk for pk, one in evidence().casts.items() if one.failed}
    assert failed == {melted.pk, weighed.pk, whole.pk} and good.pk not in failed


def test_low_vacuum_comes_first_where_the_failed_casts_had_it(pot):
    for _ in range(8):
        cast(pot)
    failed = [cast(pot, 170, failed=True) for _ in range(2)]
    read = evidence()
    factor, finding = read.ranked[0]
    assert (factor.name, finding.sure, finding.split) == ("Vacuum low", Sure.CLEAR, Split(2, 0, 0, 8))
    assert read.causes_of(failed[0].pk)[0].factor is factor
    assert not read.too_few and read.failed == 2


def test_what_was_written_down_of_a_cast_is_read(pot):
    """Old powder, an old crucible, a short firing after a plan, and a flask that hardly stood."""
    old = Equipment.objects.create(kind="crucible", name="Old pot", life_uses=20, uses_before=20)
    mould = w.buy(w.powder(), w.g(900), 9)
    Lot.objects.filter(pk=mould.pk).update(
        received_on=w.DAY - timedelta(days=80), use_by=w.DAY + timedelta(days=20)
    )
    firing = w.fire(minutes=700)
    CastingDay.objects.create(
        kiln=w.kiln(),
        schedule=plans.schedule(),
        wish_at=timezone.now(),
        standing_minutes=120,
        firing=firing,
    )
    first = cast(pot, crucible=old, powder=[w.Portion(mould, w.g(400))], firing=firing)
    second = cast(pot, firing=firing)
    at = timezone.make_aware(datetime(2026, 3, 1, 18))
    note_moment(first, CastMoment.Kind.INVESTED, at=at)
    note_moment(first, CastMoment.Kind.TICK, "dry", at=at + timedelta(minutes=760))
    read = evidence().casts
    one = read[first.pk]
    assert (one.powder_gone_pct, one.powder_spoilt) == (80, False)
    assert (one.crucible_melts, one.crucible_life) == (20, 20)
    assert (one.fired_minutes, one.schedule_minutes) == (700, 780)
    assert (one.stood_minutes, one.standing_minutes) == (60, 120)
    assert (one.melts_milli, one.fresh_pct100) == (0, 10_000)
    assert (one.poured_before, read[second.pk].poured_before) == (0, 1)
    named = {cause.factor.name for cause in evidence().causes_of(first.pk)}
    assert named == {
        *("Powder old or spoilt", "Crucible past its life", "Firing short", "Stood too short"),
    }


def test_casts_without_a_reading_do_not_count_for_it(pot):
    for vacuum in (280, 280, None, None, 170):
        cast(pot, vacuum)
    assert split_of("Vacuum low") == Split(0, 1, 0, 2)
    assert split_of("Powder old or spoilt").count == 0


def test_more_casts_ask_no_more(pot):
    cast(pot)
    with CaptureQueriesContext(connection) as few:
        evidence().findings  # noqa: B018
    for _ in range(3):
        cast(pot, 170, failed=True)
    with CaptureQueriesContext(connection) as more:
        evidence().findings  # noqa: B018
    assert len(few) == len(more) == 12, "the studio, and eleven more"
