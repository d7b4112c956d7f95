"""Reports: the same figures on the page, on paper and in files, and every sum adds up in what is printed."""

import csv
import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db.models import Q, Sum
from django.utils import timezone
from pypdf import PdfReader

from costing.core.metal_account import check_account, compute_accounts
from costing.models import MetalPrice, Policy
from costing.queries.costed import cost_casts
from costing.queries.metal import metal_flows, metal_held
from costing.reports.cast_cost import build_cast_cost
from inventory.models import Cast, Holder, Lot, Movement, Studio
from inventory.posting.buying import post_late_bill
from inventory.posting.casting import CastFacts, TimeRecord, post_found, post_start
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_count, post_handed_in
from studio.kit.printing import print_exact_money, print_money
from tests import workshop as w
from tests.costing.printed_tables import page_tables
from tests.support import plain

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    w.make_studio()
    Policy.objects.create(
        from_day=w.DAY,
        normal_loss_pct100=50,
        hourly_rate_micro=w.money("23.33"),
        consumables_per_piece_micro=1,
    )


@pytest.fixture
def cast():
    silver = w.buy(w.grain(), w.g(100), "130.01")
    return w.cast_metal(
        [(silver, "99.97")],
        [w.piece("Leaf", "30.01"), w.piece("Stud", "9.52", 3)],
        back=59,
        firing=w.fire(),
        bench=[TimeRecord(100)],
    )


def test_the_printed_cost_adds_up_along_rows_and_columns_to_the_cost_of_the_cast(cast):
    table = next(
        one for one in build_cast_cost({"cast": cast.number}).tables if one.caption == "What each piece cost"
    )
    for row in (*table.rows, table.totals):
        assert sum(row[2:-1]) == row[-1], "a row adds up"
        assert all(amount % 10_000 == 0 for amount in row[2:]), "to the penny"
    for place in range(2, len(table.columns)):
        assert sum(row[place] for row in table.rows) == table.totals[place], "a column adds up"
    total_micro = cost_casts([cast.pk])[cast.pk].cost.total_micro
    assert abs(table.totals[-1] - total_micro) <= 5_000, (
        "and it is the cost of the cast, to the nearest penny"
    )


def test_what_was_set_aside_stands_in_the_table(cast):
    table = next(
        one for one in build_cast_cost({"cast": cast.number}).tables if one.caption == "What each piece cost"
    )
    assert any(row[0] == "On no piece: abnormal loss" for row in table.rows)


@pytest.mark.parametrize(
    ("decimals", "shown"), [(0, "3"), (1, "3.5"), (2, "3.46"), (3, "3.457"), (4, "3.4567")]
)
def test_money_has_the_studios_decimals_on_every_page_and_adds_up_in_them(bench, cast, decimals, shown):
    w.buy(w.powder(), w.g(1000), "3.4567")
    Studio.objects.update(money_decimals=decimals)
    assert page_tables(bench, "/stock/")["On hand"][1][-1] == shown
    assert page_tables(bench, "/reports/stock-value/")["Each by itself"][-2] == [
        "Investment powder",
        "1,000.00 g",
        "",
        shown,
    ]
    table = page_tables(bench, f"/casts/{cast.number}/cost/")["What each piece cost"]
    figures = [[Decimal(text) for text in row[2:]] for row in table[1:]]
    for row in figures:
        assert sum(row[:-1]) == row[-1]
        assert all(-amount.as_tuple().exponent == decimals for amount in row)
    assert [sum(column) for column in zip(*figures[:-1], strict=True)] == figures[-1]


def test_a_file_of_the_command_has_the_studios_decimals(cast, tmp_path):
    Studio.objects.update(money_decimals=1)
    target = tmp_path / "cost.csv"
    call_command("report", "cast-cost", "--cast", str(cast.number), "-o", str(target))
    rows = csv.reader(io.StringIO(target.read_text(encoding="utf-8-sig")))
    total = [row[-1] for row in rows if row and row[0].startswith("Cast ")][-1]
    total_micro = cost_casts([cast.pk])[cast.pk].cost.total_micro
    assert total == f"{print_money(total_micro, 1)}0"


def test_what_the_book_says_of_single_amounts_is_told_to_the_last_decimal(bench, cast):
    """Beside the table of the cast's cost, in which a penny may have moved, a shorter figure would seem another."""
    leaf = cast.pieces.get(name="Leaf")
    exact_micro = leaf.holder.cost_micro
    assert exact_micro % 10_000, "not whole pennies"
    listed = page_tables(bench, "/pieces/")["Pieces"]
    assert print_money(exact_micro, 4) in next(row for row in listed if row[0] == "Leaf")
    entry = cast.entries.get(kind="close")
    moved = page_tables(bench, f"/ledger/{entry.pk}/")["What moves"]
    assert any(print_exact_money(exact_micro) in row for row in moved)


def test_a_cast_older_than_the_oldest_rules_says_so(bench, cast):
    words = "It was cast before your oldest cost rules, which begin on 9 Mar 2026: they cost it all the same."
    pages = (f"/casts/{cast.number}/cost/", f"/pieces/{cast.pieces.first().pk}/cost/")
    assert not any(words in bench.get(page).content.decode() for page in pages)
    Policy.objects.update(from_day=w.DAY + timedelta(days=7))
    assert all(words in bench.get(page).content.decode() for page in pages)


def test_without_rules_a_cast_says_what_costs_nothing(bench, cast):
    Policy.objects.all().delete()
    page = bench.get(f"/casts/{cast.number}/cost/").content.decode()
    assert "There are no cost rules yet, so time and energy cost nothing here." in page


def test_the_account_of_each_metal_agrees_to_the_last_unit_whatever_happened(cast):
    leaf, stud, *_ = cast.pieces.order_by("number")
    post_finish(leaf, leaf.as_cast_mg - 500, 300, w.DAY + timedelta(days=1))
    post_sale(leaf, w.DAY + timedelta(days=2))
    post_melt_back(stud, w.DAY + timedelta(days=2))
    post_found(cast, 200, Lot.Origin.SWEEPS, w.DAY + timedelta(days=3))
    fine = w.buy(w.grain(w.fine_silver()), w.g(40), 60)
    copper = w.buy(w.grain(w.bronze()), w.g(10), 1)
    w.cast_metal([(fine, 37), (copper, 3)], [w.piece("Bud", 20)], back="19.9", day=w.DAY + timedelta(days=4))
    post_late_bill(fine.delivery, w.money(3), w.DAY + timedelta(days=5))
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    w.cast_metal([(theirs, 50)], [w.piece("Ring", 20)], back="29.8", owner=w.customer())
    post_count(fine, w.g("2.9"), w.DAY + timedelta(days=6))
    wrong = w.buy(w.grain(), w.g(7), 9)
    post_reversal(wrong.entry)
    for first in (w.DAY, w.DAY + timedelta(days=3)):
        accounts = compute_accounts(metal_held(first), metal_flows(first, w.DAY + timedelta(days=9)))
        assert [check_account(account) for account in accounts.values()] == [""] * len(accounts)
        held = sum(
            sum(amount.quantity for amount in account.closing.values()) for account in accounts.values()
        )
        # 200 g came in; 29.51 g were sold; 1.44 g, 0.10 g and 0.20 g were lost at the pours, 0.10 g missing at
        # the count; the 0.20 g lost in finishing were found again.
        assert held == 200_000 - 29_510 - 1_440 - 100 - 200 - 100
    for days in range(7):
        _check_held_on(w.DAY + timedelta(days=days))


def _check_held_on(day):
    """What the account of a day long past ends with is what the movements up to that day add up to."""
    accounts = compute_accounts(metal_held(day), metal_flows(day, day))
    assert [check_account(account) for account in accounts.values()] == [""] * len(accounts)
    metal = Q(lot__material__kind="metal") | Q(lot__isnull=True)
    holders = Holder.objects.filter(metal).exclude(kind="outside")
    into, out = Movement.objects.filter(target__in=holders), Movement.objects.filter(source__in=holders)
    for measure in ("quantity", "fine_ug", "cost_micro"):
        came, went = (
            rows.filter(day__lte=day).aggregate(total=Sum(measure, default=0))["total"]
            for rows in (into, out)
        )
        closing = [amount for account in accounts.values() for amount in account.closing.values()]
        assert sum(getattr(amount, measure) for amount in closing) == came - went


@pytest.mark.parametrize("name", ["cast-cost", "metal-loss"])
def test_a_report_is_read_on_the_page_and_taken_away_in_every_form(bench, cast, name):
    page = bench.get(f"/reports/{name}/")
    assert page.status_code == 200
    for ending, start in (("pdf", b"%PDF"), ("xlsx", b"PK"), ("csv", b"\xef\xbb\xbf")):
        taken = bench.get(f"/reports/{name}.{ending}")
        assert taken.status_code == 200
        assert taken.content.startswith(start)


def test_the_csv_holds_the_same_total_as_the_page(bench, cast):
    page = bench.get("/reports/cast-cost/")
    rows = list(csv.reader(io.StringIO(bench.get("/reports/cast-cost.csv").content.decode("utf-8-sig"))))
    total = next(row for row in rows if row and row[0].startswith("Cast "))[-1]
    assert total in page.content.decode()


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("/reports/cast-cost/?cast=999", "There is no cast 999."),
        ("/reports/cast-cost/?cast=first", "Write a whole number."),
        ("/reports/metal-loss/?from=1890-01-01", "2000"),
        ("/reports/metal-loss/?from=2026-03-09&to=2026-03-01", "after the last day"),
    ],
)
def test_what_cannot_be_asked_for_is_said_beside_its_field(bench, cast, address, sentence):
    page = bench.get(address)
    assert page.status_code == 200
    assert sentence in page.content.decode()


@pytest.mark.parametrize(
    "address", ["/reports/none/", "/reports/none.pdf", "/reports/cast-cost.doc", "/casts/9/cost/"]
)
def test_what_is_not_there_is_not_found(bench, address):
    assert bench.get(address).status_code == 404


def test_a_report_of_what_is_not_there_yet_says_so_and_asks_nobody_to_mend_anything(bench):
    page = bench.get("/reports/quote/").content.decode()
    assert '<p class="empty">No quote is written down yet.</p>' in page
    assert "form-errors" not in page and "aria-invalid" not in page
    assert "form-errors" in bench.get("/reports/quote/?quote=7").content.decode()


def test_a_cast_under_way_has_no_cost_yet(bench):
    number = post_start(CastFacts("leaves", w.DAY, w.sterling())).number
    assert "when the weights after the pour are in" in bench.get(f"/casts/{number}/cost/").content.decode()


def test_a_piece_is_priced_on_its_cost_and_on_what_its_metal_costs_today(bench, cast):
    piece = cast.pieces.first()
    address = f"/pieces/{piece.pk}/cost/"
    assert "Write down what Sterling costs today" in bench.get(address).content.decode()
    MetalPrice.objects.create(
        alloy=cast.alloy, day=timezone.localdate(), price_micro=w.money("41.05"), per_unit="ozt"
    )
    page = bench.get(address).content.decode()
    assert "with metal at today" in page


def part_of(bench, cast):
    answer = bench.get(f"/casts/{cast.number}/cost/?part=1")
    rows = {row.cells[0].text: [cell.text for cell in row.cells[1:]] for row in answer.context["pieces"].rows}
    return answer, rows


def test_the_page_of_a_cast_tells_its_pieces_and_prices_in_one_table_and_folds_the_sums(bench, cast):
    answer, rows = part_of(bench, cast)
    total = print_money(cost_casts([cast.pk])[cast.pk].cost.total_micro)
    leaf = cast.pieces.get(name="Leaf")
    whole = bench.get(f"/casts/{cast.number}/cost/").content.decode()
    assert rows["1. Leaf"][-3] in whole
    priced = bench.get(f"/pieces/{leaf.pk}/cost/").context["asked"].rows
    assert rows["1. Leaf"][-2:] == [row.cells[1].text for row in priced]
    assert rows["On no piece: abnormal loss"][-2:] == ["", ""]
    page = answer.content.decode()
    # What a person came for lies open and first; the sums are folded, and tell the total.
    assert page.count(f'<span class="working-result">{total}</span></summary>') == 1
    assert page.index("<table") < page.index("The cast cost") < page.index('<details class="opens"')
    assert answer.context["pieces"].footer.cells[-3].text == total


def test_the_page_of_a_cast_shows_the_first_of_many_pieces_and_the_total_of_all(bench):
    silver = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(silver, 100)], [w.piece("Bead", 60, 30)], back="39.5")
    answer, rows = part_of(bench, cast)
    assert len(rows) == 25
    # 0.50 of 100 g is lost, which is normal here; 30 times the small things of a millionth.
    assert answer.context["pieces"].footer.cells[-3].text == "60.50"
    assert "The first 25 of 30 lines; the page of the cost has all of them." in answer.content.decode()


def test_a_cast_that_failed_asks_for_nothing_on_its_page(bench):
    silver = w.buy(w.grain(), w.g(100), 100)
    cast = w.cast_metal([(silver, 100)], [], back="99.5", failed=True)
    answer, rows = part_of(bench, cast)
    assert list(rows) == ["On no piece: cast failed"]
    assert "What no piece carries" in answer.content.decode()
    assert "Retail" not in answer.content.decode()


@pytest.mark.counts
def test_pages_of_cost_need_the_same_queries_for_one_piece_or_thirty(bench, django_assert_max_num_queries):
    silver = w.buy(w.grain(), w.g(900), 1300)
    small = w.cast_metal([(silver, 50)], [w.piece("Leaf", 30)], back="19.9")
    large = w.cast_metal([(silver, 200)], [w.piece("Leaf", 90, 30)], back="109.9")
    for cast in (small, large):
        with django_assert_max_num_queries(22):
            bench.get(f"/casts/{cast.number}/cost/")
        with django_assert_max_num_queries(20):
            bench.get(f"/pieces/{cast.pieces.first().pk}/cost/")


def test_the_command_writes_the_file_its_name_asks_for(cast, tmp_path):
    for ending in ("pdf", "csv", "xlsx"):
        target = tmp_path / "out" / f"cost.{ending}"
        call_command("report", "cast-cost", "--cast", str(cast.number), "-o", str(target))
        assert target.stat().st_size > 100


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("nothing",), "no report named nothing"),
        (("cast-cost",), "Say which file to write"),
        (("cast-cost", "-o", "x.doc"), "must end in"),
        (("cast-cost", "--cast", "77", "-o", "x.pdf"), "There is no cast 77."),
        (("metal-loss", "--alloy", "Tin", "-o", "x.pdf"), "no metal named Tin"),
    ],
)
def test_the_command_says_what_is_wrong(arguments, sentence):
    with pytest.raises(CommandError, match=sentence):
        call_command("report", *arguments)


def test_the_first_page_and_the_report_say_one_usual_loss(bench):
    lot = w.buy(w.grain(), w.g(2000), 100)
    for back in ("59.2", "59.3", "59.1", "59.2", "59.25", "59.2", "59.15", "59.2", "50"):
        w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back=back)
    report = bench.get("/reports/metal-loss/").content.decode()
    said = re.search(r"Your casts usually lose at most ([\d.]+\s%); cast 9 lost more than that", report)
    assert said
    for page in (report, bench.get("/").content.decode()):
        assert f"usual at most {said[1]}, 1 above it" in page
        assert "limit" not in page[page.index("<svg") : page.index("</svg>")].lower()


def test_a_cast_says_what_its_cost_and_its_prices_do_not_pay_for(bench, cast):
    unpaid = "No time at the bench is written down: they pay for none."
    part = part_of(bench, cast)[0].content.decode()
    assert unpaid not in part and re.search(r"The cast cost [\d.,]+, without energy\.", part)
    assert "has no price: they pay for no energy." in part
    cast.bench_times.all().delete()
    part = part_of(bench, cast)[0].content.decode()
    assert unpaid in part and re.search(
        r"The cast cost [\d.,]+, without any time at the bench or energy\.", part
    )
    Cast.objects.filter(pk=cast.pk).update(firing=None)
    document = bench.get(f"/casts/{cast.number}/cost/").content.decode()
    assert re.search(r"The cast cost [\d.,]+, without any time at the bench or a firing\.", document)
    assert "No firing is written down: they pay for none." in document


def test_the_cost_on_paper_leaves_the_working_out_until_it_is_asked_for(bench, cast):
    """39.53 g of the 99.97 g are in the pieces; what they carry over that is the cost per gram."""

    def paper(more=""):
        pdf = PdfReader(io.BytesIO(bench.get(f"/reports/cast-cost.pdf?cast={cast.number}{more}").content))
        return len(pdf.pages), " ".join(" ".join(page.extract_text() for page in pdf.pages).split())

    Cast.objects.filter(pk=cast.pk).update(metal_c=980, flask_c=550, vacuum_inhg_tenths=276)
    pages, told = paper()
    assert pages <= 2 and "How the cost came about" not in told and "printed when it is asked for" in told
    assert "metal at 980 °C, flask at 550 °C, vacuum 27.6 inHg" in plain(told)
    assert "39.53 g of 99.97 g is in pieces, 39.54 %" in plain(told) and "Cost per gram" in told
    more_pages, whole = paper("&working=on")
    assert more_pages > pages and "How the cost came about" in whole
    # The page shows it always.
    assert "How the cost came about" in bench.get("/reports/cast-cost/").content.decode()
