"""Every list and every report as a file: numbers that add up, days that are days, and never a formula."""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from costing import urls as costing_urls
from costing.models import MetalPrice, OutsideWork, Policy, Quote, QuoteLine
from costing.posting.outside import write_outside
from inventory import urls as inventory_urls
from inventory.models import Cast, CastingDay, Customer, Design, Equipment, Lot, Material, Piece, Supplier
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from studio.kit.columns import DayColumn, FigureColumn, MomentColumn, QuantityColumn
from studio.kit.listing import ListingView
from studio.kit.reporting import all_reports
from tests import workshop as w
from tests.costing.printed_tables import tables_of
from tests.inventory.test_views_questions import fill_shelf
from tests.sold import make_sales
from tests.support import made_for_file, plain

pytestmark = pytest.mark.django_db

FORMULAS = ("=1+1", "+44 20", "-5 g", "@home", "\t=1", "\r=1")
# What a spreadsheet shows of a number that it was given, and of a day.
NUMBERS, DAYS = (int, float), (date, datetime)
#: Below this a printed figure is not told in thousands, minutes or another unit than its column's.
SHOWN_AS_THEY_ARE = ("mass", "money", "fine", "percent", "count", "energy", "celsius")


def lists() -> dict[str, type[ListingView]]:
    """The address of every list of the site, found as every page is: by the patterns."""
    found = {}
    for app, urls in (("inventory", inventory_urls), ("costing", costing_urls)):
        for pattern in urls.urlpatterns:
            view = getattr(pattern.callback, "view_class", None)
            if view is not None and issubclass(view, ListingView):
                found[reverse(f"{app}:{pattern.name}")] = view
    return found


LISTS = {
    "/stock/lots/", "/stock/counts/", "/stock/materials/", "/stock/tins/", "/casts/", "/pieces/",
    "/buying/deliveries/", "/buying/offers/", "/buying/orders/",
    "/plans/", "/firings/", "/ledger/", "/setup/alloys/", "/setup/suppliers/", "/setup/customers/", "/setup/equipment/",
    "/setup/schedules/", "/setup/people/", "/setup/cost-rules/", "/setup/metal-prices/",
    "/stock/batches/", "/setup/refiners/", "/setup/label-sheets/", "/setup/wearing/",
    "/pieces/designs/", "/pieces/quotes/",
    "/pieces/outside/", "/sales/", "/sales/owed/", "/sales/out/", "/sales/bills/",
    "/setup/pure-metal/", "/setup/premiums/", "/setup/price-rules/", "/setup/channels/", "/setup/casting-for-others/",
}  # fmt: skip


class Reader:
    """Somebody who takes each list and its page away once, for all tests that only read them."""

    def __init__(self) -> None:
        self.client = Client()
        self.client.force_login(User.objects.create_user("Ada"))
        # Each is read once; what a test changed before it asked is not in what was kept.
        self.page, self.taken, self.sheet = cache(self.get), cache(self.take), cache(self.read_sheet)

    def get(self, address: str, **asked: Any) -> Any:
        answer = self.client.get(address, asked)
        assert answer.status_code == 200, address
        return answer

    def take(self, address: str, ending: str) -> bytes:
        content: bytes = self.get(address, export=ending).content
        return content

    def read_sheet(self, address: str) -> Worksheet:
        return read_sheet(self.taken(address, "xlsx"))


def read_sheet(content: bytes) -> Worksheet:
    sheet = load_workbook(io.BytesIO(content)).active
    assert isinstance(sheet, Worksheet)
    return sheet


@made_for_file
def reader() -> Reader:
    w.make_studio()
    shelf = fill_shelf(2)
    Policy.objects.create(from_day=w.DAY - timedelta(days=400), hourly_rate_micro=w.money("24.55"))
    MetalPrice.objects.create(alloy=w.sterling(), day=w.DAY, price_micro=w.money("30.55"), per_unit="ozt")
    w.set_prices()
    # Prices that no binary number holds, and names that a spreadsheet would reckon with.
    for nth, name in enumerate(FORMULAS):
        post_delivery(
            w.supplier(),
            w.DAY,
            [DeliveryLine(w.grain(), w.g("10.07"), w.money("8.95"))],
            Charges(carriage_micro=w.money("1.10")),
            reference=name,
        )
        Customer.objects.create(name=f"{name}{nth}", contact=name)
        Supplier.objects.create(name=f"{name}{nth}")
        Cast.objects.filter(pk=shelf.begun.pk).update(title=name)
    Equipment.objects.create(kind="crucible", name="=9*9", capacity_mg=w.g("12.5"))
    make_sales()
    _quote()
    pieces = list(Piece.objects.filter(void=False)[:2])
    write_outside(OutsideWork(day=w.DAY, supplier=w.supplier(), amount_micro=w.money("3.10")), pieces)
    return Reader()


def _quote() -> None:
    design = Design.objects.create(
        name="Pod", alloy=w.sterling(), pattern_material=w.wax(), pattern_mg=w.g("0.21")
    )
    quote = Quote.objects.create(name="Spring order", alloy=w.sterling(), made_on=w.DAY)
    QuoteLine.objects.create(quote=quote, design=design, quantity=3, place=0)


def columns_of(view: type[ListingView]) -> Iterator[tuple[str, Any]]:
    """Each column that files get, once for each of their columns."""
    for name, column in view.table_class.base_columns.items():
        if not column.exclude_from_export:
            label = str(column.verbose_name or name)
            yield from ((name, column) for _ in column.name_taken(label, "GBP"))


def test_every_list_is_known() -> None:
    assert set(lists()) == LISTS


def test_a_workbook_holds_numbers_and_days_and_text_that_stays_text(reader: Reader) -> None:
    for address in LISTS:
        _check_kinds(reader, address)


def _check_kinds(reader: Reader, address: str) -> None:
    columns = list(columns_of(lists()[address]))
    rows = list(reader.sheet(address).iter_rows(min_row=2))
    assert rows, address
    for row in rows:
        assert len(row) == len(columns)
        for cell, (name, column) in zip(row, columns, strict=True):
            assert cell.data_type != "f", (name, cell.value)
            is_second = _is_second(columns, row, cell)
            if isinstance(column, FigureColumn) and cell.value is not None and not is_second:
                assert isinstance(cell.value, NUMBERS), (name, cell.value)
            if isinstance(column, DayColumn | MomentColumn) and cell.value is not None:
                assert isinstance(cell.value, DAYS), (name, cell.value)


def _is_second(columns: list[tuple[str, Any]], row: Any, cell: Any) -> bool:
    """Whether this is the unit, or the method, behind a number."""
    place = row.index(cell)
    return place > 0 and columns[place][0] == columns[place - 1][0]


def test_the_two_files_say_the_same_to_the_last_digit(reader: Reader) -> None:
    for address in LISTS:
        _check_digits(reader, address)


def _check_digits(reader: Reader, address: str) -> None:
    text = reader.taken(address, "csv").decode("utf-8-sig")
    lines = list(csv.reader(io.StringIO(text, newline="")))
    sheet = reader.sheet(address)
    for row, line in zip(sheet.iter_rows(), lines, strict=True):
        for cell, written in zip(row, line, strict=True):
            assert _read_back(cell.value, written) == cell.value, cell.coordinate
    # The digits as they are written: a reader that goes through a binary number rounds away what is wrong in them.
    written = (
        zipfile.ZipFile(io.BytesIO(reader.taken(address, "xlsx"))).read("xl/worksheets/sheet1.xml").decode()
    )
    digits = dict(re.findall(r'<c r="([A-Z]+\d+)"[^>]*><v>([^<]+)</v>', written))
    for row, line in zip(sheet.iter_rows(min_row=2), lines[1:], strict=True):
        for cell, text, (_, column) in zip(row, line, columns_of(lists()[address]), strict=True):
            if isinstance(column, FigureColumn) and cell.data_type == "n" and text:
                assert Decimal(digits[cell.coordinate]) == Decimal(text), cell.coordinate


def _read_back(value: Any, written: str) -> Any:
    """Text of a comma-separated file as a spreadsheet reads it, seen that it is of the same kind as `value`."""
    if value is None:
        return written or None
    if isinstance(value, datetime):
        return datetime.fromisoformat(written)
    if isinstance(value, NUMBERS):
        return type(value)(Decimal(written))
    assert not written.startswith(("=", "+", "-", "@", "\t", "\r")), written
    # Whoever reads a workbook takes a carriage return for a line end.
    return written.removeprefix("'").replace("\r", "\n")


def test_a_column_adds_up_to_the_total_of_its_page(reader: Reader) -> None:
    for address in LISTS:
        _check_sums(reader, address)


def _check_sums(reader: Reader, address: str) -> None:
    view = lists()[address]
    page = view()
    page.setup(reader.page(address).wsgi_request)
    sums = page.add_up((page.make_filterset() or page).qs if page.filterset_class else page.get_queryset())
    sheet = reader.sheet(address)
    columns = [name for name, _ in columns_of(view)]
    for name, total in sums.items():
        place = columns.index(name)
        cells = [row[place] for row in sheet.iter_rows(min_row=2, values_only=True)]
        added = sum(Decimal(str(cell or 0)) for cell in cells)
        column: Any = view.table_class.base_columns[name]
        assert added == column.find_measure(None).take_away(total), name


def test_what_stands_on_the_page_is_what_is_taken_away(reader: Reader) -> None:
    for address in LISTS:
        _check_page(reader, address)


def _check_page(reader: Reader, address: str) -> None:
    """Each printed figure is the exact one rounded to the decimals that are printed."""
    view = lists()[address]
    tables = tables_of(reader.page(address).content.decode())
    (rows,) = (found for caption, found in tables.items() if caption == view.table_class.caption)
    sheet = reader.sheet(address)
    taken_rows = list(sheet.iter_rows(min_row=2, values_only=True))
    taken_columns = list(columns_of(view))
    shown = [name for name, column in view.table_class.base_columns.items() if column.visible]
    for printed, exact in zip(rows[1:26], taken_rows, strict=False):
        for place, name in enumerate(shown):
            column: Any = view.table_class.base_columns[name]
            if not isinstance(column, FigureColumn) or column.exclude_from_export:
                continue
            if isinstance(column, QuantityColumn) or column.kind not in SHOWN_AS_THEY_ARE:
                continue
            number = re.search(r"[\d,]+(\.\d+)?", plain(printed[place]))
            value = exact[[each for each, _ in taken_columns].index(name)]
            if number is None:
                assert not value, (name, value)
                continue
            decimals = len((number[1] or ".")[1:])
            apart = abs(Decimal(number[0].replace(",", "")) - abs(Decimal(str(value))))
            assert apart * 2 <= Decimal(1).scaleb(-decimals), (name, printed[place], value)


def test_names_that_look_like_formulas_come_back_as_they_were_typed(reader: Reader) -> None:
    sheet = reader.sheet("/buying/deliveries/")
    references = {row[3].value for row in sheet.iter_rows(min_row=2) if row[3].data_type == "s"}
    # A tab and a line end in front are trimmed by whoever reads a workbook, not by the studio.
    assert {name.strip() for name in FORMULAS} <= {str(each).strip() for each in references}
    text = reader.taken("/buying/deliveries/", "csv").decode("utf-8-sig")
    lines = list(csv.reader(io.StringIO(text, newline="")))
    assert {f"'{name}" for name in FORMULAS} <= {line[3] for line in lines}


def test_headings_name_the_unit_once(reader: Reader) -> None:
    heads = {address: [cell.value for cell in reader.sheet(address)[1]] for address in LISTS}
    assert heads["/casts/"][4:7] == ["Charge (g)", "Lost (g)", "Lost of charge (%)"]
    assert heads["/stock/lots/"][6:] == ["Left", "Left: unit", "Fine (g)", "Cost (GBP)", "Melts"]
    assert heads["/setup/cost-rules/"][2:7] == [
        "An hour (GBP)", "Overhead (GBP)", "Normal loss (%)", "Wholesale", "Wholesale: method",
    ]  # fmt: skip
    assert "A gram (GBP)" in heads["/setup/metal-prices/"]


def test_weights_and_money_are_shown_to_the_studios_decimals_and_kept_whole(reader: Reader) -> None:
    Piece.objects.filter(pk=Piece.objects.earliest("pk").pk).update(as_cast_mg=5_705)
    sheet = read_sheet(reader.take("/pieces/", "xlsx"))
    cells = {row[5].value: row[5].number_format for row in sheet.iter_rows(min_row=2)}
    assert set(cells.values()) == {"#,##0.00"} and 5.705 in cells
    assert {row[7].number_format for row in sheet.iter_rows(min_row=2)} == {"#,##0.00"}


def test_every_report_is_taken_away_as_numbers(reader: Reader) -> None:
    """Weights and money of a table add up to what stands in its last line, or that says why they do not."""
    cast = Cast.objects.filter(closed_on__isnull=False).latest("number")
    asked = {
        "cast-cost": {"cast": cast.number},
        "run-sheet": {"casting_day": CastingDay.objects.latest("pk").pk},
    }
    times = {"from": f"{w.DAY - timedelta(days=200)}", "to": f"{w.DAY + timedelta(days=100)}"}
    seen = 0
    for report in all_reports():
        query = {**times, **asked.get(report.name, {})}
        answer = reader.get(f"/reports/{report.name}.xlsx", **query)
        for sheet in load_workbook(io.BytesIO(answer.content)):
            if sheet.title == "Empty":
                continue
            heads, *rows = [list(row) for row in sheet.iter_rows(values_only=True)]
            for place, head in enumerate(heads):
                if re.search(r"\((g|GBP|%|min|°C|kWh|melts)\)$", str(head)):
                    cells = [row[place] for row in rows if row[place] is not None]
                    assert all(isinstance(cell, NUMBERS) for cell in cells), (report.name, head, cells)
                    if _is_sum(head, rows[-1], place):
                        *parts, total = [Decimal(str(row[place] or 0)) for row in rows]
                        tells = "before rounding" in rows[-1][0] and "GBP" in head
                        assert sum(parts) == total or tells, (report.name, sheet.title, head)
                        seen += 1
                if head == "Day":
                    assert all(isinstance(row[place], DAYS) for row in rows if row[place] is not None), (
                        report.name,
                        sheet.title,
                        rows[-1],
                    )
    assert seen >= 20


def _is_sum(head: Any, last: list[Any], place: int) -> bool:
    """Whether the last line has the sum of a column: what is left of an hour or of a flask is divided."""
    named = re.match(r"Together|Charge", str(last[0])) and last[place] is not None
    return bool(named and re.search(r"\((g|GBP)\)$", head) and not head.startswith("For a"))


def test_stock_whose_unit_changes_gets_a_column_for_it(reader: Reader) -> None:
    sheet = reader.sheet("/stock/materials/")
    units = {row[3] for row in sheet.iter_rows(min_row=2, values_only=True)}
    assert units == {"g", "items"}
    assert Material.objects.filter(unit="items").exists() and Lot.objects.exists()
