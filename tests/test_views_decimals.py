"""The weights of one column have one number of decimals, that of the studio's scale: how a page's tables are read.

`test_views_hostile.py` reads those of every page.
"""

import re
from collections.abc import Iterator

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.models import Cast
from inventory.posting.pieces import post_finish
from tests import workshop as w
from tests.costing.printed_tables import page_tables, tables_of
from tests.support import plain

pytestmark = pytest.mark.django_db

WEIGHT = re.compile(r"[+\N{MINUS SIGN}]?[\d,]+(\.\d+)? g")


@pytest.fixture
def reader(client: Client) -> Client:
    w.make_studio()
    client.force_login(User.objects.create_user("Ada"))
    return client


def pages_of(cast: Cast) -> list[str]:
    """What prints the weights of a cast."""
    asked = f"?from={w.DAY}&to={w.DAY}"
    return [
        f"/casts/{cast.number}/",
        f"/casts/{cast.number}/cost/",
        f"/pieces/?cast={cast.number}",
        f"/reports/cast-cost/?cast={cast.number}",
        *(
            f"/reports/{name}/{asked}"
            for name in ("metal-loss", "pieces-cost", "stock-value", "plan-and-fact")
        ),
    ]


def shares_finer_than_the_scale() -> Cast:
    """Three studs weighed together, 10.00 g, of which one is filed: shares of 3.333 g, and filings of them."""
    lot = w.buy(w.grain(), w.g(500), 600)
    cast = w.cast_metal([(lot, 30)], [w.piece("Stud", 10, 3), w.piece("Bud", 5, 1)], back=14)
    stud = cast.pieces.order_by("number")[0]
    post_finish(stud, w.g("3.21"), w.g("0.10"), w.DAY)
    return cast


ADDED_UP = {"The account in grams", "What is expected of one more piece"}


def columns_of_weights(page: str) -> Iterator[tuple[str, list[str]]]:
    for caption, rows in tables_of(page).items():
        width = max(len(row) for row in rows)
        for place in range(width):
            cells = [plain(row[place]) for row in rows[1:] if len(row) == width]
            weights = [cell for cell in cells if WEIGHT.fullmatch(cell)]
            # Fine metal is worked out and not weighed: it is told to the milligram on any scale. So is what a
            # person adds up by hand to see that nothing is missing, and a mean of what a design has learnt.
            is_told_whole = "fine" in rows[0][min(place, len(rows[0]) - 1)].lower() or caption in ADDED_UP
            if weights and not is_told_whole:
                yield f"{caption}, column {place}", weights


def test_pieces_weighed_together_add_up_on_the_page_of_their_cast(reader: Client) -> None:
    cast = shares_finer_than_the_scale()
    rows = page_tables(reader, f"/casts/{cast.number}/")[f"Pieces of cast {cast.number}"]
    assert [row[1] for row in rows] == ["As cast", "3.34 g", "3.33 g", "3.33 g", "5.00 g", "15.00 g"]
    assert [row[2] for row in rows][1:] == ["3.21 g", "3.34 g", "3.33 g", "5.00 g", "14.88 g"]
