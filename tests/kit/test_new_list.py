"""A list page that was not there: its columns and its view are declared, and all that a list can do it does."""

import io
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import include, path, resolve, reverse
from openpyxl import load_workbook

from studio.kit import context
from studio.kit.columns import CountColumn, TextColumn
from studio.kit.listing import ListingView
from studio.kit.tables import BaseTable

pytestmark = [pytest.mark.django_db, pytest.mark.urls(__name__)]


class BenchList(ListingView):
    title = "Benches"
    press = ("Set up a bench", "theme")
    queryset = Group.objects.order_by("name")
    totals = {"number": "id"}

    class table_class(BaseTable):  # noqa: N801 - declared where it is used
        name = TextColumn(verbose_name="Bench")
        number = CountColumn(accessor="id", verbose_name="Number", wide=True)

        class Meta:
            empty_text = "No bench yet."


urlpatterns = [path("", include("studio.kit.urls")), path("benches/", BenchList.as_view(), name="bench-list")]


def answer(query: str = "") -> HttpResponse:
    address = reverse("bench-list")
    response: Any = resolve(address).func(RequestFactory().get(address + query))
    return response.render() if hasattr(response, "render") else response


@pytest.fixture
def thirty_benches() -> None:
    Group.objects.bulk_create(Group(name=f"bench {number:02}", pk=number) for number in range(1, 31))


def test_the_new_list_is_paged_sorted_and_added_up(thirty_benches: None) -> None:
    html = answer("?sort=-name").content.decode()
    assert "<h1>Benches</h1>" in html
    assert html.index("bench 30") < html.index("bench 29")
    assert html.count('<th scope="row"') == 26  # a page, and the total
    assert '<td class="num wide">465</td>' in html
    assert '<a class="press" href="/theme/">Set up a bench</a>' in html


def test_the_new_list_is_taken_away(thirty_benches: None) -> None:
    lines = answer("?export=csv").content.decode("utf-8-sig").splitlines()
    assert (lines[0], lines[30], len(lines)) == ("Bench,Number", "bench 30,30", 31)
    sheet = load_workbook(io.BytesIO(answer("?export=xlsx").content)).active
    assert [cell.value for cell in sheet[31]] == ["bench 30", 30]


def test_the_new_list_says_what_to_do_while_it_is_empty() -> None:
    html = answer().content.decode()
    assert "No bench yet." in html
    assert '<a class="quiet" href="/theme/">Set up a bench</a>' in html


def test_the_new_list_belongs_to_a_section_by_its_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        context, "SECTIONS", [context.Section("benches", "Benches", "bench-list", ("/benches/",))]
    )
    assert context.find_section(reverse("bench-list")) == "benches"
    assert context.find_places(quiet=False) == [context.Place("Benches", "/benches/", "benches")]
