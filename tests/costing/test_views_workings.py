"""What the demo's pages work out in steps, worked again as a person would on a calculator."""

import pytest
from django.contrib.auth.models import User

from studio.kit.working import Working
from tests.workings import find_fault, follow_links

pytestmark = pytest.mark.django_db


@pytest.mark.slow
def test_every_sum_on_the_pages_can_be_worked_again(demo_year, client, monkeypatch):
    """Each printed step that is a sum comes to what it says, reckoned from the figures printed in it."""
    client.force_login(User.objects.get())
    shown: list[Working] = []
    before = [0]
    make = Working.__init__

    def note(self, *args, **kwargs):
        make(self, *args, **kwargs)
        shown.append(self)

    def has_worked() -> bool:
        before.append(len(shown))
        return before[-1] > before[-2]

    monkeypatch.setattr(Working, "__init__", note)
    # A view that works nothing out is opened once.
    assert len(follow_links(client, of_each=2, is_worth_more=has_worked)) > 90
    found = {(one.title, step.text, find_fault(step)) for one in shown for step in one.steps}
    assert [fault for _, _, fault in found if fault] == []
    worked = {title for title, _, fault in found if fault == ""}
    assert len([1 for _, _, fault in found if fault == ""]) > 500
    assert worked >= {
        "Metal needed",
        "Metal to charge",
        "Powder and water for one mix",
        "When to order again",
        "Sterling silver: reclaim for the next charge",
        "What the scale cannot show",
        "Where the charge went",
        "Metal lost, normal",
        "Powder",
        "This flask's share of the kiln's wear",
    }
