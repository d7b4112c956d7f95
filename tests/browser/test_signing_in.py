"""The first page that anyone sees."""

from tests.browser.conftest import OpenPage
from tests.browser_support import Look, assert_no_axe_violations, assert_no_sideways_scroll
from tests.served import ServedStudio


def test_the_sign_in_page_can_be_read_by_everyone(
    open_in: OpenPage, demo_studio: ServedStudio, look: Look
) -> None:
    page = open_in(demo_studio, look, signed_in=False)
    page.goto("/sign-in/")
    assert_no_axe_violations(page)
    assert_no_sideways_scroll(page)
