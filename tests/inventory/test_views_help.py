"""The help page: one page, with a place for each thing that other pages point at."""

import re

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.utils.html import escape

from studio.kit.cautions import CAUTIONS
from tests import workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client: Client) -> str:
    workshop.make_studio()
    client.force_login(User.objects.create_user("Ada"))
    response = client.get("/help/")
    assert response.status_code == 200
    return response.content.decode()


def test_every_place_named_at_the_top_is_on_the_page(page):
    named = set(re.findall(r'href="#([a-z]+)"', page.split("<main")[1]))
    assert named == set(re.findall(r'<h2 id="([a-z]+)"', page))
    assert {"words", "day", "numbers", "answers", "true", "mistakes", "fineness", "care", "backups"} <= named


def test_every_caution_stands_on_it_and_defers_to_local_rules(page):
    for caution in CAUTIONS.values():
        assert caution.title in page and escape(caution.ending) in page


def test_the_words_of_the_trade_are_explained(page):
    words = set(re.findall(r"<dt>([^<]+)</dt>", page))
    assert {"lot", "cost with carriage", "charge", "melts", "fineness", "loss", "yield", "reclaim"} <= words
    assert {"usual at most", "on no piece", "held", "line in the book", "taken back"} <= words


def test_the_assay_office_decides(page):
    assert "the assay office decide" in page
