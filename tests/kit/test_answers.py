"""What answers carry: nothing private is kept on the way, and two studios on one host have cookies of their own."""

from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/casts/?export=csv",
        "/casts/?export=xlsx",
        "/reports/metal-loss.pdf",
        "/setup/password/",
        "/no/page/",
    ],
)
def test_pages_exports_and_papers_are_kept_by_nobody(bench: Client, address: str) -> None:
    said = bench.get(address)["Cache-Control"]
    assert {"private", "no-store"} <= {word.strip() for word in said.split(",")}


def test_no_cookie_bears_a_name_that_another_studio_gives_too(bench: Client, settings: Any) -> None:
    Client().get("/sign-in/")
    answer = bench.post(
        reverse("inventory:supplier-new"),
        {"name": "Marsh Gate", "lead_time_days": "8", "lead_time_spread_days": "2"},
    )
    assert [str(message) for message in get_messages(answer.wsgi_request)]
    bench.get("/")
    assert bench.cookies
    assert [name for name in bench.cookies if settings.STUDIO_NAME not in name] == []
