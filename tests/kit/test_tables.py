"""Tables: figures printed one way, folded on a phone, sorted and paged by addresses that anyone may have typed."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db.models import F, QuerySet
from django.http import HttpRequest
from django.test import RequestFactory
from django.utils.safestring import SafeString

from studio.kit.columns import (
    CountColumn,
    DayColumn,
    FigureColumn,
    FineColumn,
    MassColumn,
    MinutesColumn,
    MomentColumn,
    MoneyColumn,
    PercentColumn,
    QuantityColumn,
    TextColumn,
)
from studio.kit.measures import MONEY
from studio.kit.ordering import change_query
from studio.kit.tables import BaseTable, lay_out, lay_row

LOT = {
    "name": "Tin 2",
    "day": date(2026, 11, 21),
    "left": 173_250,
    "unit": "mass",
    "cost_micro": 67_835_000,
    "alloy": "Sterling 925",
}


class LotTable(BaseTable):
    caption = "Lots"

    name = TextColumn(verbose_name="Lot", linkify=lambda record: f"/stock/lots/{record['name'][-1]}/")
    day = DayColumn(wide=True)
    left = QuantityColumn(verbose_name="Left")
    cost_micro = MoneyColumn(verbose_name="Cost", wide=True)
    alloy = TextColumn(wide=True)

    class Meta:
        empty_text = "No lot is in stock. Record a delivery first."


class HandTable(BaseTable):
    """Hands of the studio; their numbers stand in for milligrams."""

    username = TextColumn(verbose_name="Name")
    mass_mg = MassColumn(verbose_name="Mass")
    get_full_name = TextColumn(verbose_name="Full name", wide=True)


def ask(address: str = "/") -> HttpRequest:
    return RequestFactory().get(address)


def html_of(table: BaseTable, address: str = "/") -> str:
    request = ask(address)
    lay_out(table, request)
    return table.as_html(request)


def cell_of(column: Any, value: Any, **record: Any) -> str:
    table = type("OneTable", (BaseTable,), {"figure": column})([{"figure": value, **record}])
    return str(next(iter(table.rows)).get_cell("figure")).replace("\u00a0", " ")


def taken_away(column: Any, value: Any, **record: Any) -> list[Any]:
    table = type("OneTable", (BaseTable,), {"figure": column})([{"figure": value, **record}])
    return next(iter(table.export_rows()))


def hands(count: int) -> "QuerySet[User]":
    User.objects.bulk_create(User(username=f"hand-{number:03}", first_name="Mira") for number in range(count))
    return User.objects.annotate(mass_mg=F("id") * 10)


@pytest.mark.parametrize(
    ("column", "value", "shown", "away"),
    [
        (MassColumn(), 173_250, "173.25 g", Decimal("173.25")),
        (FineColumn(), 160_256_250, "160.256 g", Decimal("160.25625")),
        (MoneyColumn(), 67_835_000, "67.84", Decimal("67.835")),
        (MoneyColumn(), 5_000_000, "5.00", Decimal("5.00")),
        (PercentColumn(), 42, "0.42 %", Decimal("0.42")),
        (MinutesColumn(), 450, "7 h 30 min", 450),
        (FigureColumn(kind="energy"), 12_400, "12.40 kWh", Decimal("12.4")),
        (FigureColumn(kind="length"), 75_000, "75 mm", Decimal(75)),
        (FigureColumn(kind="celsius"), 750, "750 °C", 750),
        (FigureColumn(kind="melts"), 1_500, "1.5 melts", Decimal("1.5")),
        (CountColumn(), 1_200, "1,200", 1200),
        (DayColumn(), date(2026, 11, 21), "21 Nov 2026", date(2026, 11, 21)),
    ],
)
def test_each_figure_is_printed_one_way_and_taken_away_exactly(
    column: Any, value: Any, shown: str, away: Any
) -> None:
    assert cell_of(column, value) == shown
    assert taken_away(column, value) == [away]


def test_a_quantity_takes_its_unit_from_its_material() -> None:
    assert cell_of(QuantityColumn(), 250_000, unit="volume") == "250 ml"
    assert taken_away(QuantityColumn(), 250_000, unit="volume") == [Decimal(250), "ml"]
    assert taken_away(QuantityColumn(), 12, unit="items") == [12, "items"]


def test_a_moment_is_shown_and_taken_away_in_the_studios_zone() -> None:
    moment = datetime(2026, 7, 1, 5, 10, tzinfo=UTC)
    assert cell_of(MomentColumn(), moment) == "Wed 1 Jul 2026, 06:10"
    assert taken_away(MomentColumn(), moment) == [datetime(2026, 7, 1, 6, 10)]


def test_nothing_weighed_is_not_nothing_written() -> None:
    assert cell_of(MassColumn(), 0) == "0.00 g"
    assert cell_of(MassColumn(), None) == "–"
    assert taken_away(MassColumn(), None) == [None]


def test_exact_values_keep_their_sign_and_every_digit() -> None:
    assert MONEY.take_away(-1) == Decimal("-0.000001")
    assert MONEY.take_away(9_223_372_036_854_775_807) == Decimal("9223372036854.775807")
    assert str(MONEY.take_away(10_000_000)) == "10.00"


def test_headings_name_the_unit_of_what_is_taken_away() -> None:
    assert LotTable([LOT]).export_headings() == ["Lot", "Day", "Left", "Left: unit", "Cost", "Alloy"]
    assert HandTable([]).export_headings() == ["Name", "Mass (g)", "Full name"]


def test_what_is_taken_away_holds_no_markup() -> None:
    class BoldTable(BaseTable):
        name = TextColumn()
        is_open = TextColumn()

        def render_name(self, value: str) -> str:
            from django.utils.html import format_html

            return format_html("<b>{}</b>", value)

    rows = list(BoldTable([{"name": "Tin & jar", "is_open": True}]).export_rows())
    assert rows == [["Tin & jar", "yes"]]


def test_a_table_has_a_caption_and_headings_that_are_read_aloud() -> None:
    html = html_of(LotTable([LOT]))
    assert "<caption>Lots</caption>" in html
    assert html.count('scope="col"') == 5
    assert '<th scope="row"><a href="/stock/lots/2/">Tin 2</a></th>' in html


def test_figures_stand_to_the_right() -> None:
    assert '<td class="num">173.25\u00a0g</td>' in html_of(LotTable([LOT]))


def test_wide_columns_fold_away_under_their_row() -> None:
    html = html_of(LotTable([LOT]))
    assert '<td class="day wide">21\u00a0Nov\u00a02026</td>' in html
    assert "<div><dt>Alloy</dt><dd>Sterling 925</dd></div>" in html
    assert '<td colspan="2">' in html
    assert '<span class="unseen"> of Tin 2</span>' in html


def test_a_table_without_wide_columns_folds_nothing() -> None:
    class PlainTable(BaseTable):
        name = TextColumn()

    assert "<details>" not in html_of(PlainTable([LOT]))


def test_only_a_word_without_end_may_be_broken() -> None:
    laid = lay_row(
        [("Lot", SafeString(f'<a href="/{"y" * 30}/">Tin 2</a>'), ""), ("Alloy", "x" * 60, "wide")]
    )
    assert [cell.css_class for cell in laid.cells] == ["", "wide long-word"]


def test_text_is_escaped_in_the_cell_and_in_the_fold() -> None:
    html = html_of(LotTable([{**LOT, "name": "<i>Tin", "alloy": "<script>1</script>"}]))
    assert "<i>" not in html
    assert "<script>" not in html


def test_an_empty_table_says_what_to_do_first() -> None:
    html = html_of(LotTable([]))
    assert "No lot is in stock. Record a delivery first." in html
    assert "<table" not in html


def test_totals_stand_under_the_columns_they_add_up() -> None:
    html = html_of(LotTable([LOT], totals={"cost_micro": 67_835_000}))
    foot = html[html.index("<tfoot>") :]
    assert '<th scope="row">Total</th>' in foot
    assert '<td class="num wide">67.84</td>' in foot
    assert "<div><dt>Cost</dt><dd>67.84</dd></div>" in foot


def test_on_a_phone_a_total_that_folds_away_lies_open() -> None:
    foot = html_of(LotTable([LOT], totals={"cost_micro": 67_835_000})).split("<tfoot>")[1]
    assert "<dt>Cost</dt><dd>67.84</dd>" in foot and "<details>" not in foot


def test_a_total_of_figures_that_were_cut_says_that_they_were_not_cut_in_it() -> None:
    thirds = [
        {**LOT, "cost_micro": 3_333_333},
        {**LOT, "cost_micro": 6_666_666},
        {**LOT, "cost_micro": 4_000},
    ]
    html = html_of(LotTable(thirds, totals={"cost_micro": 10_003_999}))
    assert ">Total</th>" in html.split("<tfoot>")[1]
    thirds[0]["cost_micro"] = 3_334_000
    foot = html_of(LotTable(thirds, totals={"cost_micro": 10_004_666})).split("<tfoot>")[1]
    assert ">Total</th>" in foot
    thirds[2]["cost_micro"] = 4_500
    foot = html_of(LotTable(thirds, totals={"cost_micro": 10_005_166})).split("<tfoot>")[1]
    assert ">Total, before rounding</th>" in foot


def test_a_table_without_totals_has_no_foot() -> None:
    assert "<tfoot>" not in html_of(LotTable([LOT]))


def test_a_sorted_column_says_so_and_its_link_turns_it_round() -> None:
    html = html_of(LotTable([LOT]), "/?sort=name&page=2")
    assert '<th scope="col" aria-sort="ascending"><a class="sort" href="?sort=-name">Lot</a></th>' in html


def test_sort_links_keep_the_filter_and_go_back_to_the_first_page() -> None:
    html = html_of(LotTable([LOT]), "/?alloy=Sterling+925&page=1")
    assert 'href="?alloy=Sterling+925&amp;sort=day"' in html


@pytest.mark.django_db
def test_a_column_that_the_database_cannot_sort_by_has_no_sort_link() -> None:
    html = html_of(HandTable(hands(1)))
    assert '<th scope="col" class="wide">Full name</th>' in html


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address",
    [
        "/?sort=",
        "/?sort=-",
        "/?sort=get_full_name",
        "/?sort=password",
        "/?sort=username__nothing",
        "/?sort=username&sort=username&sort=-mass_mg&sort=x",
        "/?sort=%00",
        "/?page=",
        "/?page=0",
        "/?page=-3",
        "/?page=x",
        "/?page=1.5",
        "/?page=" + "9" * 5000,
        "/?page=99999",
        "/?per_page=0",
        "/?per_page=-5",
        "/?per_page=1000000",
    ],
)
def test_no_address_breaks_a_table_or_makes_it_longer(address: str) -> None:
    rows = HandTable(hands(30))
    assert html_of(rows, address).count('<th scope="row"') in (5, 25)


@pytest.mark.django_db
def test_a_page_out_of_bounds_is_the_nearest_page() -> None:
    assert lay_out(HandTable(hands(30)), ask("/?page=7")).page.number == 2
    assert lay_out(HandTable(User.objects.annotate(mass_mg=F("id"))), ask("/?page=0")).page.number == 1


@pytest.mark.django_db
def test_rows_that_are_equal_keep_one_order_over_all_pages() -> None:
    class FirstNameTable(BaseTable):
        first_name = TextColumn()

    hands(60)
    seen: list[int] = []
    for number in (1, 2, 3):
        table = lay_out(FirstNameTable(User.objects.all()), ask(f"/?sort=first_name&page={number}"))
        seen += [row.record.pk for row in table.paginated_rows]
    assert seen == sorted(seen)
    assert len(set(seen)) == 60


@pytest.mark.django_db
def test_a_slice_is_shown_as_it_was_cut() -> None:
    hands(30)
    table = HandTable(User.objects.annotate(mass_mg=F("id")).order_by("-id")[:3])
    html = html_of(table, "/?sort=username")
    assert 'class="sort"' not in html
    assert html.index("hand-029") < html.index("hand-027")


@pytest.mark.counts
@pytest.mark.django_db
def test_a_page_of_a_table_asks_two_questions(django_assert_num_queries: Any) -> None:
    table = HandTable(hands(60))
    with django_assert_num_queries(2):
        html_of(table)


@pytest.mark.django_db
def test_the_pager_names_itself_and_the_page_shown() -> None:
    html = html_of(LotTable([LOT] * 60), "/?page=2&alloy=x")
    assert '<nav class="pager" aria-label="Pages of lots">' in html
    assert 'aria-current="page"><span class="unseen">Page </span>2<' in html
    assert 'href="?page=1&amp;alloy=x" rel="prev"' in html
    assert "Lots, 26 to 50 of 60" in html


def test_two_tables_on_a_page_are_sorted_apart() -> None:
    first = LotTable([LOT], prefix="lots-")
    html = html_of(first, "/?lots-sort=name&sort=day")
    assert 'href="?lots-sort=-name&amp;sort=day"' in html


def test_a_query_string_is_changed_without_losing_the_rest() -> None:
    query = ask("/?alloy=a%26b&page=3").GET
    assert change_query(query, page=None, sort="-day") == "?alloy=a%26b&sort=-day"
    assert change_query(ask("/").GET) == "?"
