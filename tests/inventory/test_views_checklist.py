"""The list that is ticked before the pour: begun, written, ordered, shortened."""

import pytest
from django.test import Client

from inventory.core.starters import STARTER_CHECKLIST
from inventory.forms.checklist import LINES_MOST
from inventory.models import ChecklistItem
from tests.support import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def three(bench: Client) -> list[int]:
    for text in ("Flask dry", "Gloves on", "Floor clear"):
        bench.post("/setup/checklist/new/", {"text": text, "when": "always"})
    return list(ChecklistItem.objects.values_list("pk", flat=True))


def texts():
    return list(ChecklistItem.objects.values_list("text", flat=True))


def test_an_empty_list_offers_a_common_one(bench):
    page = text_of(bench.get("/setup/checklist/"))
    assert all(line.text in page for line in STARTER_CHECKLIST)
    assert page.count('class="press"') == 1


def test_the_common_one_is_taken_in_one_press_and_only_once(bench):
    for _ in range(2):
        bench.post("/setup/checklist/begin/")
    assert texts() == [line.text for line in STARTER_CHECKLIST]
    assert ChecklistItem.objects.get(text__contains="flux").when == "graphite"


def test_the_common_lines_know_only_what_a_line_may_be_asked_for():
    assert {line.when for line in STARTER_CHECKLIST} <= set(ChecklistItem.When.values)


def test_a_new_line_stands_last(bench, three):
    bench.post("/setup/checklist/new/", {"text": "Vacuum tight", "when": "pump"})
    assert texts() == ["Flask dry", "Gloves on", "Floor clear", "Vacuum tight"]
    assert "with a vacuum pump" in text_of(bench.get("/setup/checklist/"))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"text": "", "when": "pump"}, "Write what is looked at"),
        ({"text": "x" * 121, "when": "pump"}, "at most 120 characters"),
        ({"text": "gloves ON", "when": "pump"}, "This line is in the list already."),
        ({"text": "Apron on", "when": "never"}, "Choose one that is in the list."),
        ({"text": "Apron\u202eon", "when": "pump"}, "cannot be printed"),
    ],
)
def test_a_refused_line_changes_nothing(bench, three, typed, sentence):
    page = text_of(bench.post("/setup/checklist/new/", typed))
    assert sentence in page and (typed["when"] == "never" or 'value="pump" selected' in page)
    assert len(texts()) == 3


def test_a_line_is_changed_in_its_place(bench, three):
    bench.post(f"/setup/checklist/{three[1]}/", {"text": "Thick gloves on", "when": "graphite"})
    assert texts() == ["Flask dry", "Thick gloves on", "Floor clear"]


def test_a_line_may_keep_its_own_words(bench, three):
    assert (
        bench.post(f"/setup/checklist/{three[1]}/", {"text": "Gloves on", "when": "pump"}).status_code == 302
    )


def test_lines_are_put_in_order(bench, three):
    bench.post(f"/setup/checklist/{three[2]}/move/", {"up": "1"})
    assert texts() == ["Flask dry", "Floor clear", "Gloves on"]
    bench.post(f"/setup/checklist/{three[0]}/move/", {"down": "1"})
    assert texts() == ["Floor clear", "Flask dry", "Gloves on"]


def test_the_first_and_the_last_line_stay_where_they_are(bench, three):
    bench.post(f"/setup/checklist/{three[0]}/move/", {"up": "1"})
    bench.post(f"/setup/checklist/{three[2]}/move/", {"down": "1"})
    assert texts() == ["Flask dry", "Gloves on", "Floor clear"]


def test_a_line_is_taken_out(bench, three):
    bench.post(f"/setup/checklist/{three[1]}/remove/")
    assert texts() == ["Flask dry", "Floor clear"]


def test_a_line_that_somebody_took_out_meanwhile_breaks_nothing(bench, three):
    for act in ("move", "remove"):
        assert bench.post(f"/setup/checklist/999/{act}/").status_code == 302
    assert bench.get("/setup/checklist/999/").status_code == 404
    assert len(texts()) == 3


@pytest.mark.parametrize("act", ["1/move/", "1/remove/", "begin/"])
def test_looking_changes_nothing(bench, act):
    assert bench.get(f"/setup/checklist/{act}").status_code == 405


def test_a_full_list_takes_no_more(bench):
    ChecklistItem.objects.bulk_create(ChecklistItem(text=f"Line {n}", place=n) for n in range(LINES_MOST))
    page = text_of(bench.post("/setup/checklist/new/", {"text": "One more", "when": "always"}))
    assert "The list has 40 lines at most" in page and len(texts()) == LINES_MOST
    assert "The list is full." in text_of(bench.get("/setup/checklist/"))


def test_it_asks_a_constant_number_of_questions(bench, three, django_assert_num_queries):
    with django_assert_num_queries(4):  # the session, the person, the studio, the lines
        bench.get("/setup/checklist/")
