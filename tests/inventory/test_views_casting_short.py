"""What the page for a cast that is done fills in by itself, what it folds away, and what may be left out."""

import pytest

from inventory.models import Cast, Equipment, Firing, Lot
from tests import workshop as w
from tests.inventory.test_views_casting import NO_PIECES, rows, silver, typed
from tests.support import problems, text_of

pytestmark = pytest.mark.django_db

PAGE = "/casts/record/"


def flask(name: str) -> Equipment:
    return Equipment.objects.create(kind="flask", name=name)


def chosen(page: str, name: str) -> str:
    """The value of a field as the page shows it."""
    from html.parser import HTMLParser

    class Reader(HTMLParser):
        inside, found = False, ""

        def handle_starttag(self, tag, attrs):
            said = dict(attrs)
            if tag == "input" and said.get("name") == name:
                self.found = said.get("value", "")
            elif tag == "select":
                self.inside = said.get("name") == name
            elif tag == "option" and self.inside and "selected" in said:
                self.found = said["value"]

    reader = Reader()
    reader.feed(page)
    return reader.found


def a_cast_before(**changes):
    """Sterling of grain and clean reclaim, 560 g of powder, in a steel flask."""
    lot, mould, green = silver(400), w.buy(w.powder(), w.g(5000), 30), w.buy(w.wax(), w.g(100), 8)
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.9")
    tin = Lot.objects.get(origin="clean", material__alloy=w.sterling())
    wanted = {
        "flask": flask("Steel 75 x 100"),
        "crucible": Equipment.objects.create(kind="crucible", name="Graphite 1"),
        "powder": [w.Portion(mould, w.g(560))],
        "tree": [w.TreeRecord(w.wax(), w.g(4), green)],
        "firing": w.fire(),
    }
    return w.cast_metal(
        [(lot, 50), (tin, 30)],
        [w.piece("Fern stud", 30, 2), w.piece("Pod", 10)],
        back="39.9",
        **wanted | changes,
    )


def test_everything_starts_as_it_was_last_time(bench):
    before = a_cast_before()
    page = text_of(bench.get(PAGE))
    grain, wax = w.grain().lots.first(), w.wax().lots.first()
    assert chosen(page, "charge-0-what") == f"lot-{grain.pk}"
    assert chosen(page, "charge-1-what") == f"clean-{w.sterling().pk}-0"
    assert chosen(page, "tree-0-what") == f"lot-{wax.pk}"
    assert (chosen(page, "powder-0-mass"), chosen(page, "firing")) == ("560 g", "new")
    assert chosen(page, "crucible") == str(before.crucible_id)
    assert "Charge: Sterling" in page and "Record the cast in Sterling" in page
    assert "of a new firing how long it was on" in page
    mixed = text_of(bench.post(PAGE, {"alloy": w.sterling().pk, "as_it_is": "on"}))
    assert "Record the cast" in mixed and "Record the cast in" not in mixed


def test_the_lines_that_are_filled_in_count_only_with_a_weight(bench):
    a_cast_before()
    page = text_of(bench.get(PAGE))
    grain = chosen(page, "charge-0-what")
    charge = rows(
        "charge", {"what": grain, "mass": "50"}, {"what": chosen(page, "charge-1-what"), "mass": ""}
    )
    tree = rows("tree", {"what": chosen(page, "tree-0-what"), "quantity": ""})
    bench.post(PAGE, typed(w.grain().lots.get(), **charge, **tree))
    cast = Cast.objects.latest("number")
    assert cast.is_closed and not cast.tree_parts.exists()
    assert problems() == []


def test_the_usual_answers_are_those_of_the_alloy(bench):
    steel = flask("Steel 50 x 60")
    bronze = w.buy(w.grain(w.bronze()), w.g(500), 10)
    w.cast_metal([(bronze, 100)], [w.piece("Bell", 60)], back="39.9", alloy=w.bronze(), flask=steel)
    a_cast_before()
    page = text_of(bench.post(PAGE, typed(bronze, start_again="1", alloy=w.bronze().pk, flask=steel.pk)))
    assert "Charge: Bronze" in page
    assert page.index('<optgroup label="Bronze">') < page.index('<optgroup label="Sterling">')


def test_another_alloy_changes_what_was_filled_in_and_leaves_what_was_written(bench):
    bronze = w.buy(w.grain(w.bronze()), w.g(500), 10)
    w.cast_metal([(bronze, 100)], [w.piece("Bell", 60)], back="39.9", alloy=w.bronze())
    before = a_cast_before()
    page = text_of(bench.get(PAGE))
    sent = {
        **typed(bronze, back="3.1 oz", title=""),
        "begun": chosen(page, "begun"),
        "flask": before.flask_id,
        "crucible": before.crucible_id,
        **rows(
            "charge",
            *({"what": chosen(page, f"charge-{n}-what"), "mass": m} for n, m in ((0, "44"), (1, ""))),
        ),
        "charge-INITIAL_FORMS": 2,
        "alloy": w.bronze().pk,
        "start_again": "1",
    }
    response = bench.post(PAGE, sent)
    page = text_of(response)
    assert response.status_code == 200 and 'class="errors"' not in page
    assert chosen(page, "charge-0-what") == f"lot-{bronze.pk}"
    assert chosen(page, "charge-1-what") == f"clean-{w.bronze().pk}-0" or not chosen(page, "charge-1-what")
    assert (chosen(page, "charge-0-mass"), chosen(page, "back")) == ("44", "3.1 oz")
    assert chosen(page, "crucible") == ""
    assert chosen(page, "begun") == f"{w.bronze().pk}-{before.flask_id}-0"
    assert Cast.objects.count() == 3


@pytest.mark.parametrize("begun", ["", "x", "1-2", "9-9-9", "1-2-99999999999", "١-٢-٣"])
def test_a_beginning_that_says_nothing_is_passed_over(bench, begun):
    sent = typed(silver(), begun=begun, start_again="1", alloy="x", flask="99999999999999")
    assert bench.post(PAGE, sent).status_code == 200
    assert bench.get(f"{PAGE}?like={begun}").status_code == 200


def test_another_like_an_earlier_one_has_its_names(bench):
    before = a_cast_before()
    assert f"{PAGE}?like={before.number}" in text_of(bench.get(f"/casts/{before.number}/"))
    page = text_of(bench.get(f"{PAGE}?like={before.number}"))
    assert chosen(page, "title") == before.title
    found = [(chosen(page, f"pieces-{n}-name"), chosen(page, f"pieces-{n}-count")) for n in range(2)]
    assert found == [("Fern stud", "2"), ("Pod", "1")]
    # What did not come out this time has no weight, and is no line.
    pieces = rows("pieces", {"name": "Fern stud", "count": "2", "mass": "20"}, {"name": "Pod", "count": "1"})
    bench.post(PAGE, typed(w.grain().lots.get(), begun=chosen(page, "begun"), **pieces))
    assert Cast.objects.latest("number").pieces.count() == 2


def test_a_cast_without_a_name_is_called_by_its_pieces(bench):
    pieces = rows(
        "pieces",
        {"name": "Fern stud", "count": "2", "mass": "10"},
        {"name": "Pod", "count": "1", "mass": "10"},
    )
    bench.post(PAGE, typed(silver(), title="", **pieces))
    assert Cast.objects.get().title == "2 × Fern stud, Pod"


def test_a_cast_that_failed_whole_needs_a_name(bench):
    response = bench.post(PAGE, typed(silver(), title="", failed="on", back="49.9", **NO_PIECES))
    assert response.status_code == 422 and "Write what is cast" in text_of(response)


def test_a_new_firing_needs_only_its_kilowatt_hours(bench):
    w.fire(minutes=700)
    bench.post(PAGE, typed(silver(), firing="new", kiln=w.kiln().pk, firing_energy="12,4"))
    firing = Firing.objects.latest("pk")
    assert (firing.minutes, firing.meter_before_wh, firing.meter_after_wh) == (700, 0, 12_400)


def test_a_new_firing_needs_only_its_hours(bench):
    bench.post(PAGE, typed(silver(), firing="new", kiln=w.kiln().pk, firing_minutes="11 h 40"))
    assert Firing.objects.get().minutes == 700


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Write how long the kiln was on, such as 12 h 30, or the kWh it took."),
        ({"firing_energy": "12.4"}, "The first firing of this kiln: write how long it was on too."),
        (
            {"firing_energy": "12.4", "meter_before": "1", "meter_after": "2", "firing_minutes": "700"},
            "Write what it took, or both readings of the meter.",
        ),
    ],
)
def test_what_a_new_firing_lacks_is_asked_for_where_it_can_be_seen(bench, said, sentence):
    response = bench.post(PAGE, typed(silver(), firing="new", kiln=w.kiln().pk, **said))
    page = text_of(response)
    assert response.status_code == 422 and sentence in page
    assert 'class="new-firing stands"' in page


@pytest.mark.parametrize(
    ("changes", "summary"),
    [
        ({"spill": "0.1"}, "Failed castings, spill, filings"),
        ({"water": "3 oz"}, "Water, more wax"),
        ({"metal_c": "970"}, "Readings at the pour"),
        ({"note": "second try"}, "Customer, day of the weights"),
    ],
)
def test_what_is_folded_away_opens_when_something_is_in_it(bench, changes, summary):
    def is_open(page: str) -> bool:
        return " open>" in page[: page.index(summary)].rpartition("<details")[2]

    lot, _ = silver(), w.buy(w.powder(), w.g(5000), 30)
    assert not is_open(text_of(bench.get(PAGE)))
    assert not is_open(text_of(bench.post(PAGE, typed(lot, once=""))))
    assert is_open(text_of(bench.post(PAGE, typed(lot, once="", **changes))))


def test_before_the_first_cast_the_only_flask_and_crucible_are_chosen(bench):
    w.sterling()
    steel = flask("Flask 1")
    crucible = Equipment.objects.create(kind="crucible", name="Crucible 1")
    page = text_of(bench.get(PAGE))
    assert (chosen(page, "flask"), chosen(page, "crucible")) == (str(steel.pk), str(crucible.pk))
    Equipment.objects.create(kind="flask", name="Flask 2")
    assert chosen(text_of(bench.get(PAGE)), "flask") == ""
