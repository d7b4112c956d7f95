"""A picture taken at the bench, with a phone: refused in a sentence, then kept, and seen; and a label's page."""

from pathlib import Path

from tests.browser.conftest import OpenPage
from tests.browser_support import LOOKS, check_page
from tests.inventory.pictures import drawn
from tests.served import ServedStudio

PHONE_IN_THE_DARK = LOOKS[1]


def test_a_picture_is_taken_on_a_phone(
    open_in: OpenPage, own_demo_studio: ServedStudio, tmp_path: Path
) -> None:
    letter, picture = tmp_path / "letter.jpg", tmp_path / "tree.jpg"
    letter.write_text("Dear studio")
    picture.write_bytes(drawn())
    page = open_in(own_demo_studio, PHONE_IN_THE_DARK)
    page.goto("/casts/2/")
    page.get_by_role("link", name="Add a picture").click()
    check_page(page)
    page.set_input_files("[name=taken]", letter)
    page.fill("[name=words]", "two trees")
    page.get_by_role("button", name="Keep").click()
    page.locator(".field .errors").wait_for()
    assert "no picture that the studio can read" in page.locator(".errors").inner_text()
    assert page.input_value("[name=words]") == "two trees"

    page.set_input_files("[name=taken]", picture)
    page.set_input_files("[name=chosen]", [picture, picture])
    page.get_by_role("button", name="Keep").click()
    page.get_by_text("3 pictures are kept.").wait_for()
    assert page.input_value("[name=words]") == ""
    page.goto("/casts/2/")
    small = page.get_by_role("img", name="two trees").first
    small.scroll_into_view_if_needed()
    page.wait_for_load_state("networkidle")
    assert small.evaluate("(image) => image.decode().then(() => image.naturalWidth)") == 40
    small.click()
    check_page(page)
    assert page.locator(".photo img").evaluate("(image) => image.naturalWidth") == 40
