"""A form that is sent again after it was saved: by a second press, or from a page that Back brought up."""

import pytest

from inventory.models import Cast
from studio.kit.saved import name_result
from tests.inventory.test_views_casting import silver, typed
from tests.support import text_of

pytestmark = pytest.mark.django_db


def test_what_was_saved_and_is_sent_again_is_said_to_be_saved_already(bench):
    data = typed(silver())
    first = bench.post("/casts/record/", data)
    again = bench.post("/casts/record/", data, follow=True)
    page = text_of(again)
    assert again.redirect_chain == [(first["Location"], 302)]
    assert (
        'Saved already: <a href="/casts/1/">cast 1</a>. It was sent once more, and that changed nothing.'
        in page
    )
    assert Cast.objects.count() == 1


def test_a_form_that_was_saved_says_so_also_when_its_metal_is_used_up(bench):
    data = typed(silver(50))
    bench.post("/casts/record/", data)
    again = bench.post("/casts/record/", data | {"back": "3 oz"}, follow=True)
    assert "Saved already: " in text_of(again) and Cast.objects.count() == 1


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("/casts/41/", "cast 41"),
        ("/buying/deliveries/7/", "delivery 7"),
        ("/casts/41/?x=1", "cast 41"),
        ("/casts/41/finish/", ""),
        ("/casts/", ""),
        ("/nowhere/", ""),
    ],
)
def test_a_result_is_named_by_its_address(address, name):
    assert name_result(address) == name
