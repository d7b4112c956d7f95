"""A stock count: one number a lot, a difference with a reason, saved together, and a record of the round."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.models import CountLine, Entry, StockCount, Studio
from inventory.posting.counting import LotFound, Round, post_stock_count
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_use
from inventory.queries.counting import last_count
from tests import workshop as w
from tests.support import once, problems, text_of

pytestmark = pytest.mark.django_db

Reason = CountLine.Reason


@pytest.fixture
def shelf():
    if not Studio.objects.exists():
        w.make_studio()
    silver = w.buy(w.grain(), w.g(100), 130, kept_in="safe")
    mould = w.buy(w.powder(), w.g(5_000), 20, kept_in="under the bench")
    return silver, mould, w.buy(w.wax(), w.g(200), 8)


def sheet(**numbers):
    return {**once(), "day": "2026-03-05", "note": "", **numbers}


def test_lots_that_agree_and_lots_that_differ_are_one_count(shelf):
    silver, mould, wax = shelf
    found = [
        LotFound(silver, w.g("99.20"), Reason.UNKNOWN),
        LotFound(mould, w.g(5_000)),
        LotFound(wax, w.g(210), Reason.SLIP),
    ]
    count = post_stock_count(found, Round(w.DAY, "safe", note="spring"))
    lines = list(count.lines.order_by("pk"))
    assert [line.difference for line in lines] == [-800, 0, 10_000]
    assert lines[1].entry is None
    assert lines[0].entry.kind == Entry.Kind.COUNT and lines[0].entry.note == "nobody knows; spring"
    for lot, left in ((silver, "99.20"), (mould, 5_000), (wax, 210)):
        lot.holder.refresh_from_db()
        assert lot.holder.quantity == w.g(left)
    assert problems() == []


def test_a_difference_without_a_reason_is_refused_and_nothing_is_kept(shelf):
    silver, mould, _ = shelf
    with pytest.raises(Refused, match=r"The book has 5,000.g: 100.00.g missing") as refused:
        post_stock_count([LotFound(silver, w.g(100)), LotFound(mould, w.g(4_900))], Round(w.DAY))
    assert refused.value.field == f"lot-{mould.pk}"
    assert not StockCount.objects.exists()


def test_what_the_scale_may_have_made_needs_no_reason(shelf):
    count = post_stock_count([LotFound(shelf[0], w.g("99.99"))], Round(w.DAY))
    assert count.lines.get().reason == Reason.SCALE


def test_the_scale_is_no_reason_for_more_than_it_can_show(bench, shelf):
    silver = shelf[0]
    with pytest.raises(Refused, match="more than the scale can show") as refused:
        post_stock_count([LotFound(silver, w.g("99.44"), Reason.SCALE)], Round(w.DAY))
    assert refused.value.field == f"why-{silver.pk}"
    answer = bench.post(
        "/stock/count/", sheet(**{f"lot-{silver.pk}": "99.44", f"why-{silver.pk}": Reason.SCALE})
    )
    assert answer.status_code == 422 and "more than the scale can show" in text_of(answer)
    assert not StockCount.objects.exists()


def test_of_two_counts_on_one_day_the_later_is_told(shelf):
    post_stock_count([LotFound(shelf[0], w.g(100))], Round(w.DAY))
    later = post_stock_count([LotFound(shelf[1], w.g(5_000))], Round(w.DAY))
    assert last_count(w.DAY) == (later, 1, 0)


def test_a_count_before_a_later_move_is_refused(shelf):
    post_use(shelf[1], w.g(10), w.DAY + timedelta(days=5))
    with pytest.raises(Refused, match="a count before that says nothing"):
        post_stock_count([LotFound(shelf[1], w.g(4_000), Reason.USED)], Round(w.DAY))


def test_the_sheet_asks_why_beside_the_lot_and_keeps_what_was_typed(bench, shelf):
    silver, mould, wax = shelf
    numbers = {f"lot-{silver.pk}": "99.2", f"lot-{mould.pk}": "5 kg"}
    answer = bench.post("/stock/count/", sheet(**numbers))
    page = text_of(answer)
    assert answer.status_code == 422 and not StockCount.objects.exists()
    assert "The book has 100.00 g: 0.80 g missing. Look again, or say why." in page
    assert (
        'value="99.2"' in answer.content.decode() and f'name="why-{mould.pk}"' not in answer.content.decode()
    )
    done = bench.post("/stock/count/", sheet(**numbers, **{f"why-{silver.pk}": "spilt"}), follow=True)
    assert "2 lots, counted by" in text_of(done) and "1 differed and was put right" in text_of(done)
    assert StockCount.objects.get().lines.count() == 2
    report = text_of(bench.get("/reports/metal-loss/"))
    assert "Counted on 5 Mar 2026 by" in report and "2 lots. 1 differed and was put right" in report


def test_a_count_that_is_refused_shows_what_the_book_has(bench, shelf):
    silver, mould, _ = shelf
    post_use(mould, w.g(100), w.DAY + timedelta(days=9))
    why = {f"why-{lot.pk}": Reason.UNKNOWN for lot in (silver, mould)}
    refused = bench.post("/stock/count/", sheet(**{f"lot-{silver.pk}": "99", f"lot-{mould.pk}": "9", **why}))
    assert refused.status_code == 422
    books = {lot.pk: book for lot, book, *_ in refused.context["form"].lines()}
    assert books[silver.pk].startswith("100.00")


def test_a_lot_that_moved_while_it_was_counted_is_still_on_the_sheet(bench, shelf):
    mould = shelf[1]
    post_use(mould, mould.holder.quantity, w.DAY)
    answer = bench.post("/stock/count/", sheet(**{f"lot-{mould.pk}": "5000"}))
    assert answer.status_code == 422 and "The book has 0.00 g: 5,000 g more." in text_of(answer)


def test_blind_it_shows_no_figure_of_the_book(bench, shelf):
    assert "100.00 g" in text_of(bench.get("/stock/count/"))
    blind = text_of(bench.get("/stock/count/?blind=on&kept_in=safe"))
    assert "100.00 g" not in blind and "Green wax" not in blind and "Sterling grain" in blind
    asked = text_of(bench.post("/stock/count/?blind=on", sheet(**{f"lot-{shelf[0].pk}": "99.2"})))
    assert "That is less than the book has. Look again, or say why." in asked and "100.00 g" not in asked
    assert "5,000.00 g" not in text_of(bench.get("/reports/count-sheet/?blind=on"))
    assert bench.get("/reports/count-sheet.pdf?kept_in=safe").content.startswith(b"%PDF")


def test_an_empty_sheet_is_refused_and_a_strange_lot_is_passed_over(bench, shelf):
    for numbers in ({}, {"lot-999999": "3"}, {"lot-x": "3"}):
        answer = bench.post("/stock/count/", sheet(**numbers))
        assert answer.status_code == 422
        assert "Write what is there of at least one lot." in text_of(answer)


def test_the_counts_are_listed_and_one_that_was_taken_back_says_so(bench, shelf):
    count = post_stock_count([LotFound(shelf[0], w.g(90), Reason.SLIP)], Round(w.DAY))
    post_reversal(count.lines.get().entry)
    assert "everywhere" in text_of(bench.get("/stock/counts/"))
    assert "taken back" in text_of(bench.get(f"/stock/counts/{count.pk}/"))
    assert bench.get("/stock/counts/999/").status_code == 404


def test_a_count_that_was_taken_back_is_where_nobody_looks_from(bench, shelf):
    silver, mould, _ = shelf
    earlier = post_stock_count([LotFound(silver, w.g(100)), LotFound(mould, w.g(5_000))], Round(w.DAY))
    day = w.DAY + timedelta(days=3)
    later = post_stock_count([LotFound(silver, w.g(90), Reason.SLIP)], Round(day))
    assert last_count(day) == (later, 1, 1) and last_count(w.DAY) == (earlier, 2, 0)
    post_reversal(later.lines.get().entry)
    assert last_count(day) == (earlier, 2, 0)
    assert "as if nobody had counted" in text_of(bench.get(f"/stock/counts/{later.pk}/"))


def test_a_count_written_again_after_a_mend_before_it_still_counts(shelf):
    silver = shelf[0]
    count = post_stock_count(
        [LotFound(silver, w.g(90), Reason.SLIP), LotFound(shelf[1], w.g(5_000))], Round(w.DAY)
    )
    given = read_given(silver.entry)
    lines = [replace(given.lines[0], quantity=w.g(95))]
    post_mended({silver.entry: Mend(w.DAY, replace(given, lines=lines))})
    first = count.lines.order_by("pk").first().entry
    assert hasattr(first, "reversed_by")
    assert last_count(w.DAY) == (count, 2, 1)
