"""Lists: filtered, sorted, paged and taken away whole."""

import csv
import io
from typing import Any

import django_filters
import pytest
from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.http import HttpResponse
from django.test import RequestFactory
from openpyxl import load_workbook

from studio.kit.columns import CountColumn, DayColumn, TextColumn
from studio.kit.listing import DayFilter, ListFilter, ListingView
from studio.kit.tables import BaseTable

pytestmark = [pytest.mark.django_db, pytest.mark.urls("studio.kit.urls")]


class HandTable(BaseTable):
    caption = "Hands"

    username = TextColumn(verbose_name="Name")
    number = CountColumn(accessor="id")
    date_joined = DayColumn(verbose_name="Since", wide=True)

    class Meta:
        empty_text = "Nobody works here yet."


class HandFilter(ListFilter):
    word = django_filters.CharFilter(
        field_name="username", lookup_expr="icontains", label="Words in the name"
    )
    since = DayFilter(field_name="date_joined", lookup_expr="date__gte", label="Since")
    is_active = django_filters.ChoiceFilter(choices=[("1", "here"), ("0", "gone")], label="Here")


class HandList(ListingView):
    title = "Hands of the studio"
    lead = "Who may work here."
    press = ("Welcome somebody", "sign-in")
    table_class = HandTable
    filterset_class = HandFilter
    totals = {"number": "id"}

    def get_queryset(self) -> "QuerySet[User]":
        return User.objects.order_by("username")


class PlainList(ListingView):
    title = "Hands"
    table_class = HandTable
    queryset = User.objects.order_by("-username")


@pytest.fixture
def sixty_hands() -> None:
    User.objects.bulk_create(User(username=f"hand-{number:02}") for number in range(60))


def answer(address: str, view: type[ListingView] = HandList) -> HttpResponse:
    response = view.as_view()(RequestFactory().get(address))
    return response.render() if hasattr(response, "render") else response  # type: ignore[no-any-return]


def page(address: str, view: type[ListingView] = HandList) -> str:
    return answer(address, view).content.decode()


def rows_of_csv(address: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(answer(address).content.decode("utf-8-sig"))))


def test_a_list_has_its_title_its_sentence_and_one_thing_to_do(sixty_hands: None) -> None:
    html = page("/")
    assert "<h1>Hands of the studio</h1>" in html
    assert '<p class="lead">Who may work here.</p>' in html
    assert html.count('class="press"') == 1


def test_a_list_shows_twenty_five_rows_a_page(sixty_hands: None) -> None:
    html = page("/?page=2")
    assert "Hands, 26 to 50 of 60" in html
    assert html.count('<th scope="row"') == 26  # with the total


def test_a_filter_narrows_the_list_and_its_totals(sixty_hands: None) -> None:
    html = page("/?word=hand-01")
    assert html.count("hand-01") >= 1
    assert "hand-02" not in html
    number = User.objects.get(username="hand-01").pk
    assert f'<td class="num">{number:,}</td>' in html[html.index("<tfoot>") :]


def test_pages_and_files_of_a_filtered_list_keep_the_filter(sixty_hands: None) -> None:
    html = page("/?word=hand&sort=-username")
    assert 'href="?word=hand&amp;sort=-username&amp;page=2"' in html
    assert 'href="?word=hand&amp;sort=-username&amp;export=csv"' in html
    assert '<input type="hidden" name="sort" value="-username">' in html


def test_a_filter_that_cannot_be_read_says_so_and_the_others_still_count(sixty_hands: None) -> None:
    html = page("/?word=hand-01&since=yesterday")
    assert "This day cannot be read. Write it as 25/11/2026 or 2026-11-25." in html
    assert 'value="yesterday"' in html
    assert "hand-02" not in html


def test_a_filter_that_nothing_fits_can_be_taken_off(sixty_hands: None) -> None:
    html = page("/?word=nobody&sort=username")
    assert "Nothing fits this filter." in html
    assert '<a class="quiet" href="?sort=username">Show all</a>' in html


def test_a_choice_that_was_not_made_means_all() -> None:
    assert '<option value="" selected>All</option>' in page("/")


def test_an_empty_list_says_what_to_do_first() -> None:
    html = page("/")
    assert "Nobody works here yet." in html
    assert '<a class="quiet" href="/sign-in/">Welcome somebody</a>' in html


@pytest.mark.parametrize(
    "query",
    [
        "word=%00",
        "word=" + "x" * 5000,
        "since=0000-00-00",
        "since=9999-99-99",
        "is_active=7",
        "is_active=1&is_active=0",
        "export=exe",
        "page=x&sort=%27--",
        "unknown=1",
    ],
)
def test_no_address_breaks_a_list(sixty_hands: None, query: str) -> None:
    assert answer(f"/?{query}").status_code == 200


def test_a_list_without_filters_has_no_filter_form(sixty_hands: None) -> None:
    html = page("/", PlainList)
    assert 'class="filter"' not in html
    assert 'class="press"' not in html


def test_the_whole_filtered_list_is_taken_away_in_its_order(sixty_hands: None) -> None:
    rows = rows_of_csv("/?word=hand-0&sort=-username&page=2&export=csv")
    assert rows[0] == ["Name", "ID", "Since"]
    assert [row[0] for row in rows[1:]] == [f"hand-0{number}" for number in range(9, -1, -1)]


def test_a_file_is_named_after_the_list() -> None:
    response = answer("/?export=csv")
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="hands-of-the-studio-20' in response["Content-Disposition"]


def test_a_name_never_becomes_a_formula() -> None:
    User.objects.create(username="=1+1")
    assert rows_of_csv("/?export=csv")[1][0] == "'=1+1"
    sheet = load_workbook(io.BytesIO(answer("/?export=xlsx").content)).active
    assert (sheet["A2"].value, sheet["A2"].data_type) == ("=1+1", "s")


def test_a_workbook_holds_numbers_and_days(sixty_hands: None) -> None:
    sheet = load_workbook(io.BytesIO(answer("/?export=xlsx").content)).active
    assert sheet.max_row == 61
    assert sheet["B2"].data_type == "n"
    assert sheet["C2"].is_date


@pytest.mark.counts
def test_a_list_asks_as_many_questions_for_sixty_rows_as_for_one(
    sixty_hands: None, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(3):
        page("/")
    with django_assert_num_queries(1):
        answer("/?export=csv")
    with django_assert_num_queries(1):
        answer("/?export=xlsx")


def test_a_list_with_a_prefetch_is_taken_away_in_two_questions(
    sixty_hands: None, django_assert_num_queries: Any
) -> None:
    class GroupList(PlainList):
        queryset = User.objects.prefetch_related("groups").order_by("pk")

    with django_assert_num_queries(2):
        answer("/?export=csv", GroupList)
