"""Pages on which a fineness is guessed, put right and told, and metals that must not meet are spoken of."""

import re

import pytest

from inventory.models import Entry, Equipment, FinenessNote, Lot, Material
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.casting import CastFacts, post_charge, post_start
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_opening
from inventory.posting.unpoured import post_unpoured
from tests import workshop as w
from tests.support import once, problems, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("bench")]

By = Lot.FinenessBy


def jar(**changes):
    opening = OpeningLot(w.grain(), w.g(100), w.money(90), guess=(800_000, 925_000), **changes)
    return post_opening(opening, w.DAY)


def lines(**changes):
    management = {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0"}
    return management | {f"lines-0-{name}": value for name, value in changes.items()}


def test_a_jar_is_entered_with_a_guess(bench):
    grain = w.grain()
    typed = {"day": "2026-03-02", **lines(material=f"old-clean-{w.sterling().pk}", quantity="100", cost="90")}
    refused = bench.post("/stock/opening/", {**once(), **typed, "lines-0-guess": "925"})
    assert refused.status_code == 422 and "Write from what to what of 1000" in text_of(refused)
    refused = bench.post("/stock/opening/", {**once(), **typed, "lines-0-guess": "925 to 800"})
    assert "Write the lower figure first" in text_of(refused)
    assert not Lot.objects.exists() and grain
    bench.post("/stock/opening/", {**once(), **typed, "lines-0-guess": "800 to 925"})
    lot = Lot.objects.get()
    assert (str(lot.material), lot.fine_low_ppm, lot.fine_high_ppm) == (
        "Mixed silver, reclaimed",
        800_000,
        925_000,
    )
    page = text_of(bench.get(f"/stock/lots/{lot.pk}/"))
    assert "somewhere from 800 to 925 of 1000, a guess" in page and "86.250 g, reckoned at the middle" in page


def test_a_customers_metal_and_bought_scrap_may_be_guesses(bench):
    scrap = Material.objects.create(name="Old spoons", kind="metal", alloy=w.sterling(), form="scrap")
    typed = {"new_customer": "Ilse Quill", "material": scrap.pk, "mass": "50", "day": "2026-03-02"}
    bench.post("/stock/handed-in/", {**once(), **typed, "guess": "750–835"})
    theirs = Lot.objects.get()
    assert (str(theirs.material), theirs.fine_low_ppm) == ("Mixed silver, bought scrap", 750_000)
    bronze = w.grain(w.bronze())
    refused = bench.post("/stock/handed-in/", {**once(), **typed, "material": bronze.pk, "guess": "1 to 2"})
    assert refused.status_code == 422 and "has no precious metal" in text_of(refused)
    form = {"supplier": w.supplier().pk, "day": "2026-03-02", "spread_by": "value"}
    form |= lines(material=theirs.material_id, quantity="9", price="4")
    refused = bench.post("/buying/deliveries/new/", {**once(), **form})
    assert refused.status_code == 422 and "is of no alloy" in text_of(refused)
    bench.post("/buying/deliveries/new/", {**once(), **form, "lines-0-guess": "800 to 900"})
    assert Lot.objects.latest("pk").holder.fine_ug == 9_000 * 850
    assert problems() == []


def assay(bench, lot, **typed):
    return bench.post(f"/stock/lots/{lot.pk}/assay/", {**once(), "day": "2026-03-02", **typed})


def agree(bench, lot, first, **typed):
    seen = re.search(r'name="seen" value="([^"]+)"', first.content.decode())[1]
    return assay(bench, lot, **typed, seen=seen)


def test_an_assay_shows_what_changes_before_it_is_written_down(bench):
    lot = jar()
    cast = w.cast_metal([(lot, 60)], [w.piece("Leaf", 40)], "19.9", as_it_is=True)
    assert f'href="/stock/lots/{lot.pk}/assay/"' in bench.get(f"/stock/lots/{lot.pk}/").content.decode()
    told = text_of(bench.get(f"/casts/{cast.number}/"))
    assert "a guess: somewhere from 800 to 925 of 1000. No mark is promised of it." in told
    assert f'<a href="/stock/lots/{lot.pk}/assay/">Write down an assay of lot {lot.pk}</a>' in told
    typed = {"measured": "880", "by_whom": "Tide Street assayers", "paper": "A 17", "goes_on": "on"}
    first = assay(bench, lot, **typed)
    page = text_of(first)
    assert first.status_code == 422 and not Entry.objects.filter(kind="assay").exists()
    assert (
        "Leaf of cast 1, 40.00 g" in page and "862.5" in page and "Lot 2, button and sprues of cast 1" in page
    )
    assert "What was lost of it stays in the book" in page
    agree(bench, lot, first, **typed)
    report = text_of(bench.get("/reports/metal-loss/?from=2026-03-01&to=2026-03-31"))
    assert "The metal of cast 1 was assayed later." in report
    note = FinenessNote.objects.get(fineness_by=By.ASSAYED)
    assert (note.low_ppm, note.goes_on, note.paper) == (880_000, True, "A 17")
    page = text_of(bench.get(f"/stock/lots/{lot.pk}/"))
    assert "880 of 1000, assayed by Tide Street assayers on Mon 2 Mar 2026, paper A 17" in page
    told = text_of(bench.get(f"/casts/{cast.number}/"))
    assert "Assayed since: its charge is of 880 of 1000." in told and "No mark is promised" not in told
    assert page.count("fineness put right, ") + page.count(">fineness put right<") == 1, "once in its history"
    assert "may be marked 800" in text_of(bench.get(f"/pieces/{cast.pieces.get().pk}/"))
    assert problems() == []


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Write the fineness that was measured"),
        ({"measured": "880", "guess": "800 to 900"}, "not both"),
        ({"measured": "1001"}, "1000"),
        ({"measured": "0.880"}, "Write parts of 1000"),
        ({"guess": "0.8 to 0.925"}, "Write parts of 1000"),
        ({"measured": "950"}, "The guess of this lot is 800 to 925 of 1000, and this is 950. Is it right?"),
        ({"measured": "880", "day": "2026-03-01"}, "This lot came on"),
    ],
)
def test_an_assay_that_says_nothing_right_is_refused(bench, typed, sentence):
    lot = jar()
    first = assay(bench, lot, **typed)
    if 'name="seen" value="' in first.content.decode():
        first = agree(bench, lot, first, **typed)
    assert first.status_code == 422 and sentence in text_of(first)
    assert not Entry.objects.filter(kind="assay").exists()


def test_what_is_out_of_the_guess_is_taken_once_it_is_answered(bench):
    lot = jar()
    asked = assay(bench, lot, measured="0")
    sure = re.search(r'name="sure" value="([^"]+)"', asked.content.decode())[1]
    first = assay(bench, lot, measured="0", sure=sure)
    agree(bench, lot, first, measured="0", sure=sure)
    lot.holder.refresh_from_db()
    assert lot.holder.fine_ug == 0


def test_it_is_carried_on_from_the_start_where_something_was_made_of_it(bench):
    lot, other = jar(), jar()
    w.cast_metal([(lot, 60)], [w.piece("Leaf", 40)], "19.9", as_it_is=True)
    ticked = [
        bench.get(f"/stock/lots/{one.pk}/assay/").context["form"]["goes_on"].value() for one in (lot, other)
    ]
    assert ticked == [True, False]


def test_two_weighings_become_a_guess(bench):
    lot = w.buy(w.grain(), w.g(50), 40)
    asked = {"air": "100", "water": "90.37", "water_c": "20", "work_out": "1"}
    page = assay(bench, lot, **asked).content.decode()
    guess = re.search(r'name="guess" value="([^"]+)"', page)[1]
    assert "10.366" in page and "no stone" in page and "That stands as the guess" in page
    first = assay(bench, lot, guess=guess)
    agree(bench, lot, first, guess=guess)
    lot.refresh_from_db()
    assert lot.fineness_by == By.GUESS and lot.fine_low_ppm < 925_000 < lot.fine_high_ppm
    assert "In water it weighs less" in text_of(assay(bench, lot, **{**asked, "water": "100"}))
    assert "needed to work out" in text_of(assay(bench, lot, **{**asked, "air": ""}))
    assert "Use water of 10 to 30" in text_of(assay(bench, lot, **{**asked, "water_c": "80"}))
    assert "lighter than copper" in text_of(assay(bench, lot, **{**asked, "water": "80"}))
    bronze = w.buy(w.grain(w.bronze()), w.g(5), 4)
    assert bench.get(f"/stock/lots/{bronze.pk}/assay/").status_code == 302


def test_a_charge_that_misses_is_offered_as_what_it_is(bench):
    cast = post_start(CastFacts("studs", w.DAY, w.sterling()))
    assert "for what it is: mixed" not in text_of(bench.get(f"/casts/{cast.number}/weights/"))
    post_charge(cast, [w.Portion(jar(), w.g(20))], w.DAY)
    weights = {
        "pieces-TOTAL_FORMS": "1",
        "pieces-INITIAL_FORMS": "0",
        "pieces-0-name": "Leaf",
        "pieces-0-count": "1",
        "pieces-0-mass": "12",
        "back": "7.99",
        "day": "2026-03-02",
    }
    refused = bench.post(f"/casts/{cast.number}/weights/", {**once(), **weights})
    page = text_of(refused)
    assert refused.status_code == 422 and "Record it for what it is: mixed metal, no mark" in page
    assert "not known for sure" in page and "Its fineness is 800" in page
    bench.post(f"/casts/{cast.number}/weights/", {**once(), **weights, "as_it_is": "on"})
    cast.refresh_from_db()
    assert cast.is_closed and str(cast.alloy) == "Mixed silver"
    assert "somewhere from 800 to 925" in text_of(bench.get(f"/pieces/{cast.pieces.get().pk}/"))


def test_an_assay_and_a_guess_are_mended(bench):
    lot = jar()
    entry = post_assay(Assay(lot, 880_000, 880_000, paper="A 17"), w.DAY)
    typed = {"low": "881.5", "paper": "A 18", "day": "2026-03-02"}
    first = bench.post(f"/ledger/{entry.pk}/mend/", {**once(), **typed})
    seen = re.search(r'name="seen" value="([^"]+)"', first.content.decode())[1]
    bench.post(f"/ledger/{entry.pk}/mend/", {**once(), **typed, "seen": seen})
    lot.refresh_from_db()
    assert (lot.fineness_by, lot.holder.fine_ug, lot.fine_low_ppm) == (By.ASSAYED, 100_000 * 881.5, 881_500)
    opening = Entry.objects.filter(kind="opening").latest("pk")
    page = bench.get(f"/ledger/{opening.pk}/mend/").content.decode()
    assert 'name="guess" value="800 to 925"' in page
    assert problems() == []


def crucible(name="Crucible A"):
    return Equipment.objects.get_or_create(
        kind="crucible", name=name, defaults={"price_micro": 0, "end_value_micro": 0, "life_uses": 50}
    )[0]


def test_a_crucible_remembers_what_it_melted(bench):
    bronze = w.buy(w.grain(w.bronze()), w.g(50), 4)
    w.cast_metal([(bronze, 20)], [w.piece("Leaf", 19)], alloy=w.bronze(), crucible=crucible())
    cast = post_start(CastFacts("studs", w.DAY, w.sterling(), crucible=crucible()))
    page = text_of(bench.get(f"/casts/{cast.number}/charge/"))
    assert "Crucible A has melted bronze, brass or copper (last for cast 1), and this is silver" in page
    other = post_start(CastFacts("studs", w.DAY, w.sterling(), crucible=crucible("Crucible B")))
    assert "has melted" not in text_of(bench.get(f"/casts/{other.number}/charge/"))
    again = post_start(CastFacts("studs", w.DAY, w.bronze(), crucible=crucible()))
    assert "has melted" not in text_of(bench.get(f"/casts/{again.number}/charge/"))


def test_the_record_of_a_cast_minds_what_is_weighed_in_before_it_is_saved(bench):
    bronze = w.buy(w.grain(w.bronze()), w.g(50), 4)
    w.cast_metal([(bronze, 20)], [w.piece("Leaf", 19)], alloy=w.bronze(), crucible=crucible())
    lot = jar()
    typed = {
        "alloy": w.sterling().pk,
        "crucible": crucible().pk,
        "charge-TOTAL_FORMS": "1",
        "charge-INITIAL_FORMS": "0",
        "charge-0-what": f"lot-{lot.pk}",
        "charge-0-mass": "20",
    }
    page = text_of(bench.post("/casts/balance/", typed))
    assert "Crucible A has melted bronze" in page and "Lead and cadmium" in page and "Zinc fume" in page
    assert "reckoned at the least that it may be, 800 of 1000" in page


def test_metal_that_was_assayed_in_the_crucible_or_when_its_lot_was_empty(bench):
    lot, cast = jar(), post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(cast, [w.Portion(lot, w.g(100))], w.DAY)
    entry = post_assay(Assay(Lot.objects.get(pk=lot.pk), 880_000, 880_000, goes_on=True), w.DAY)
    cast.crucible_holder.refresh_from_db()
    assert cast.crucible_holder.fine_ug == 100_000 * 880
    with pytest.raises(Refused, match="Take the assay back first"):
        post_unpoured(cast, w.DAY)
    with pytest.raises(Refused, match="fineness put right"):
        post_reversal(Entry.objects.get(kind="charge"))
    mend = bench.get(f"/ledger/{entry.pk}/mend/")
    assert mend.status_code == 200 and f"/stock/lots/{lot.pk}/" in mend.content.decode()
    assert bench.get(f"/ledger/{entry.pk}/").status_code == 200
    assert problems() == []
