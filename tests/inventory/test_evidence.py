"""The record of all casts read for the evidence: what failed, what stood written, and when it is too few to tell."""

import csv
import io
import re
from datetime import datetime, timedelta
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from reportlab.graphics.shapes import Circle, Rect

from inventory.core.evidence import Sure
from inventory.core.odds import Split
from inventory.models import CastingDay, CastMoment, Design, Equipment, Lot, Piece, Plan, Studio
from inventory.posting.casting import PourNotes
from inventory.posting.pieces import post_melt_back
from inventory.posting.planning import note_moment, save_plan
from inventory.queries.evidence import read_designs, read_evidence
from inventory.queries.plan_figures import work_out
from inventory.queries.plans import PartDraft
from inventory.reports.evidence import build_evidence
from studio.kit.chart_intervals import IntervalRow, interval_chart
from studio.kit.documents import Prose
from tests import workshop as w
from tests.inventory import plans
from tests.support import text_of

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
    said = [block.text for block in build_evidence({}).blocks if isinstance(block, Prose)]
    assert said[0].startswith("5 casts are too few") and not any("Odds are" in text for text in said)


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
    assert (one.charge_mg, one.fresh_mg, one.melted) == (100_000, 100_000, 0)
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


def test_the_page_says_what_goes_with_failed_casts_and_is_taken_away(bench, pot):
    for _ in range(9):
        cast(pot)
    assert "None of 9 casts failed" in text_of(bench.get("/casts/evidence/"))
    for vacuum in (170, 175, 280):
        cast(pot, vacuum, failed=True)
    page = text_of(bench.get("/casts/evidence/"))
    assert "Of 12 casts 3 failed. Vacuum low goes with failed casts, hardly by chance." in page
    assert "Vacuum low: 2 of 2 failed with it, 1 of 10 without." in page
    assert "No cast has this in its record: metal too hot or too cool" in page
    assert not re.search(r"\bcauses?\b", page.replace("not what caused them", ""))
    rows = list(csv.reader(io.StringIO(bench.get("/reports/evidence.csv").content.decode("utf-8-sig"))))
    assert ["Vacuum low", "2", "2", "10", "1"] in [row[:5] for row in rows]
    assert bench.get("/reports/evidence.pdf").content.startswith(b"%PDF")


def test_intervals_are_drawn_on_one_scale_also_where_they_have_no_end():
    rows = [
        IntervalRow("a", "12 (0.5 to 700)", Fraction(1, 2), Fraction(12), Fraction(700)),
        IntervalRow("b", "without end", Fraction(3), None, None),
        IntervalRow("c", "0 (0 to 4)", Fraction(0), Fraction(0), Fraction(4)),
    ]
    picture = interval_chart(rows, "Odds", "Three.", [], ("", "Odds"), (("a", "12"),))
    for width in (320.0, 720.0):
        drawing = picture.draw(width, 14.0)
        bars = [one for one in drawing.contents if isinstance(one, Rect)]
        assert [bar.x >= 0 and bar.x + bar.width <= width for bar in bars] == [True] * 3
        dots = [one.cx for one in drawing.contents if isinstance(one, Circle)]
        assert dots[2] < dots[0] < dots[1]
        assert bars[2].x == dots[2] and bars[1].x + bars[1].width == dots[1]


def test_a_design_counts_where_it_came_out_or_a_plan_had_it_on_the_tree(bench, pot):
    design = Design.objects.create(name="Bud ring", alloy=w.sterling(), pattern_material=w.wax())
    other = Design.objects.create(name="Leaf", alloy=w.sterling(), pattern_material=w.wax())
    for named in [other] * 9 + [design] * 2:
        Piece.objects.filter(cast=cast(pot)).update(design=named)
    cast(pot, failed=True)
    failed = cast(pot, failed=True)
    parts = (PartDraft("Bud ring", w.wax(), 3_200, 4), PartDraft("Sprue", w.wax(), 900, is_piece=False))
    plan = save_plan(work_out(plans.draft(parts=parts), Studio.objects.get()))
    Plan.objects.filter(pk=plan.pk).update(cast=failed)
    plan.parts.filter(is_piece=True).update(design=design)
    found = {name: one.split for name, one in read_designs(evidence()).items()}
    assert found == {"Leaf": Split(0, 9, 1, 2), "Bud ring": Split(1, 2, 0, 9)}, (
        "a cast of unknown design is left out"
    )
    assert "Designs on the most casts" in text_of(bench.get("/casts/evidence/"))
