"""The stock pages: what there is, one lot and what is done with it, opening stock, materials."""

import re
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone

from inventory.models import Alloy, Customer, Entry, Holder, Lot, Material, Tin
from inventory.posting.reclaim import post_together
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_hand_back, post_handed_in
from tests import workshop as w
from tests.support import once, problems, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
FAR_TOO_LARGE = 10**30


def act(bench, lot: Lot, name: str, **typed: str):
    return bench.post(
        reverse("inventory:lot-action", args=[lot.pk, name]),
        {**once(), "day": w.DAY.isoformat(), "note": "", **typed},
    )


def left(lot: Lot) -> int:
    lot.holder.refresh_from_db()
    return lot.holder.quantity


def cast_some(lot: Lot, **changes):
    return w.cast_metal([(lot, 40)], [w.piece("Leaf", 20)], back="19.5", **changes)


# The overview


def test_an_empty_studio_says_what_to_do_first(bench):
    page = bench.get(reverse("inventory:stock")).content.decode()
    assert "Write down what is here already" in page
    assert page.count('class="press"') == 1


def test_the_overview_tells_metal_scrap_powder_and_whose_it_is(bench):
    cast_some(w.buy(w.grain(), w.g(100), 130))
    w.buy(w.powder(), w.g(5000), 50)
    post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    page = bench.get(reverse("inventory:stock")).content.decode()
    assert "60.00\u00a0g" in page and "19.50\u00a0g" in page
    assert "Sterling: reclaim for the next charge" in page
    assert "5.00\u00a0kg" in page
    assert "kept apart" in page and "Ilse Quill" in page
    # 19.50 of 79.50 g is 24.53 %.
    assert "Sterling: 79.50\u00a0g" in page and "clean reclaim 19.50\u00a0g (24.53\u00a0%)" in page


def test_the_grams_of_unlike_metals_are_not_added_up_but_their_cost_is(bench):
    w.buy(w.grain(), w.g(100), 130)
    w.buy(w.grain(w.bronze()), w.g(1000), 20)
    foot = bench.get(reverse("inventory:stock")).content.decode().split("<tfoot>")[1].split("</tfoot>")[0]
    assert "150.00" in foot and "100.00" not in foot.replace("150.00", "")
    # On a phone the figure stands in the row itself.
    assert '<td class="num">150.00</td>' in foot


def test_every_sum_of_the_stock_page_is_the_sum_of_what_stands_above_it(bench):
    lots = [w.buy(w.grain(alloy), w.g(100), 1) for alloy in (w.sterling(), w.bronze())]
    lots += [w.buy(material, w.g(100), 1) for material in (w.powder(), w.wax())]
    for lot in lots:
        # Each is 1.004, so all are 4.02 and no two pennies of any row make that.
        Holder.objects.filter(pk=lot.holder_id).update(cost_micro=1_004_000)
    context = bench.get(reverse("inventory:stock")).context
    metal = [row.record.cost_micro for row in context["metal"].rows]
    others = [row.record["cost"] for row in context["others"].rows]
    assert context["metal"].totals["cost"] == sum(metal)
    assert context["others"].totals["cost"] == sum(others)
    assert context["cost_micro"] == sum(metal + others) == 4_020_000
    assert all(cost_micro % 10_000 == 0 for cost_micro in metal + others)


def test_tins_stand_below_the_metal_that_they_hold(bench):
    lot = cast_some(w.buy(w.grain(), w.g(100), 130)).lots_recovered.get()
    tin = Tin.objects.create(name="Buttons", material=lot.material, kind=lot.origin)
    post_together(tin, [lot], w.DAY)
    page = text_of(bench.get(reverse("inventory:stock")))
    assert "19.50 g of Sterling, button and sprues, in <a" in page
    assert page.index(">Buttons</a>") < page.index("How much may go back")


def test_a_lots_page_leads_to_its_tin_and_to_the_refiner_with_it_ticked(bench):
    lot = cast_some(w.buy(w.grain(), w.g(100), 130)).lots_recovered.get()
    at = reverse("inventory:lot-detail", args=[lot.pk])
    assert "Put it into a tin" not in text_of(bench.get(at))
    w.refiner()
    tin = Tin.objects.create(name="Buttons", material=lot.material, kind=lot.origin)
    page = text_of(bench.get(at))
    assert "Put it into a tin" in page
    sending = re.search(r'href="([^"]*)">Send it to a refiner', page)[1].replace("&amp;", "&")
    form = bench.get(sending).context["form"]
    assert [one.pk for one in form.lots][0] == lot.pk
    assert [one.pk for one in form.lots if form[f"all_{one.pk}"].value()] == [lot.pk]
    assert act(bench, lot, "into-tin", tin=str(tin.pk))["Location"] == f"/stock/tins/{tin.pk}/"
    assert left(lot) == 0
    assert f'<a href="/stock/tins/{tin.pk}/">Buttons' in text_of(bench.get(at))


def test_a_lot_says_on_a_phone_whose_it_is_and_where_it_came_from(bench):
    button = cast_some(w.buy(w.grain(), w.g(100), 130)).lots_recovered.get()
    post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    page = bench.get(reverse("inventory:lot-list")).content.decode()
    said = re.findall(r'<span class="help narrow-only">([^<]*)</span>', page)
    assert "Ilse Quill&#x27;s, handed in by a customer" in said
    assert f"{button.get_origin_display()} of cast 1" in said
    assert f"bought from {Lot.objects.get(origin='bought').supplier}" in said


def count_queries(bench, address: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as asked:
        assert bench.get(address).status_code == 200
    return len(asked)


def test_every_stock_page_asks_as_much_of_a_full_studio_as_of_a_small_one(bench):
    lot = w.buy(w.grain(), w.g(2000), 2600)
    theirs = post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    cast_some(lot, filings_mg=w.g("0.1"))
    w.buy(w.powder(), w.g(1000), 10)
    pages = [
        reverse("inventory:stock"),
        reverse("inventory:lot-list"),
        reverse("inventory:lot-detail", args=[lot.pk]),
        reverse("inventory:lot-detail", args=[theirs.pk]),
        reverse("inventory:material-list"),
        reverse("inventory:opening"),
        reverse("inventory:handed-in"),
    ]
    before = [count_queries(bench, page) for page in pages]
    for number in range(6):
        cast_some(lot, filings_mg=w.g("0.1"))
        bronze = w.grain(w.bronze())
        cast_some(w.buy(bronze, w.g(100), 2), alloy=w.bronze())
        w.buy(Material.objects.create(name=f"Wax {number}", kind="pattern"), w.g(500), 8)
        post_handed_in(Customer.objects.create(name=f"Customer {number}"), w.grain(), w.g(30), w.DAY)
    assert [count_queries(bench, page) for page in pages] == before


# Lots


def test_used_up_lots_are_shown_only_when_asked_for(bench):
    lot = w.buy(w.grain(), w.g(40), 52)
    cast_some(lot)
    address = reverse("inventory:lot-list")
    link = reverse("inventory:lot-detail", args=[lot.pk])
    assert link not in bench.get(address).content.decode()
    assert link in bench.get(address, {"show": "all"}).content.decode()


@pytest.mark.parametrize(
    ("chosen", "found"),
    [
        ({"kind": "powder"}, 1),
        ({"kind": "metal"}, 2),
        ({"owner": "null"}, 2),
        ({"expiry": "stale"}, 1),
        ({"expiry": "none"}, 2),
        ({"origin": "handed_in"}, 1),
        ({"kind": "nonsense", "owner": "x", "material": str(FAR_TOO_LARGE), "sort": "-nonsense"}, 3),
    ],
)
def test_lots_are_filtered(bench, chosen, found):
    w.buy(w.powder(), w.g(1000), 10, use_by=w.DAY + timedelta(days=1))
    w.buy(w.grain(), w.g(100), 130)
    post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    page = bench.get(reverse("inventory:lot-list"), chosen)
    assert page.status_code == 200
    assert len(page.context["table"].rows) == found


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_lots_are_taken_away_whole(bench, form):
    for _ in range(30):
        w.buy(w.powder(), w.g(1000), 10)
    answer = bench.get(reverse("inventory:lot-list"), {"export": form})
    assert answer.status_code == 200 and "attachment" in answer["Content-Disposition"]
    if form == "csv":
        assert len(answer.content.decode("utf-8-sig").splitlines()) == 31


def test_a_lot_that_is_not_there_is_not_found(bench):
    for pk in (999, FAR_TOO_LARGE):
        assert bench.get(f"/stock/lots/{pk}/").status_code == 404
        assert bench.post(f"/stock/lots/{pk}/count/").status_code == 404
    lot = w.buy(w.grain(), w.g(100), 130)
    assert bench.get(f"/stock/lots/{lot.pk}/nonsense/").status_code == 404


def test_a_lot_shows_what_is_known_and_the_sum_behind_its_cost(bench):
    lot = w.buy(w.grain(), w.g(100), 130, carriage="10.50", supplier_batch="K-7", kept_in="top drawer")
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk])).content.decode()
    for words in ("K-7", "top drawer", "Marsh Gate Metals", "140.50", "1.4050 per g", "Left"):
        assert words in page
    assert reverse("inventory:entry-detail", args=[lot.entry_id]) in page


def test_a_lot_that_came_back_is_named_by_its_cast(bench):
    button = cast_some(w.buy(w.grain(), w.g(100), 130)).lots_recovered.get()
    name = f"Lot {button.pk}, button and sprues of cast 1"
    assert f"<h1>{name}</h1>" in bench.get(reverse("inventory:lot-detail", args=[button.pk])).content.decode()
    with pytest.raises(Refused, match=f"^{name} is the studio's own metal"):
        post_hand_back(button, w.g(1), w.DAY)


def test_a_reversed_lot_is_read_but_nothing_can_be_done_with_it(bench):
    lot = w.buy(w.grain(), w.g(100), 130)
    post_reversal(lot.entry)
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk])).content.decode()
    assert "was taken back" in page and "Count it" not in page
    act(bench, lot, "throw-away", quantity="10", note="damp")
    assert left(lot) == 0


def test_what_can_be_done_with_a_lot_stands_before_what_is_known_of_it(bench):
    page = text_of(bench.get(f"/stock/lots/{w.buy(w.powder(), w.g(1000), 10).pk}/"))
    assert page.index("What to do with it") < page.index("What is known of it")


def test_a_count_sets_the_lot(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    assert act(bench, lot, "count", counted="0.9 kg").status_code == 302
    assert left(lot) == w.g(900)


def test_a_count_that_agrees_moves_nothing_and_says_so(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    answer = bench.post(
        reverse("inventory:lot-action", args=[lot.pk, "count"]),
        {**once(), "day": w.DAY.isoformat(), "counted": "1000"},
        follow=True,
    )
    assert "The count agrees" in answer.content.decode()
    assert not Entry.objects.filter(kind="count").exists()


def test_the_same_page_sent_twice_takes_once(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    key = once()
    for _ in range(2):
        assert act(bench, lot, "take", quantity="100", **key).status_code == 302
    assert left(lot) == w.g(900)


def test_more_than_there_is_is_refused_beside_the_field_and_keeps_what_was_typed(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    page = act(bench, lot, "throw-away", quantity="1.5 kg", note="damp")
    html = page.content.decode()
    assert page.status_code == 422
    assert "holds 1,000\u00a0g" in html and 'value="1.5 kg"' in html and 'value="damp"' in html
    assert 'id="id_quantity_error"' in html
    assert left(lot) == w.g(1000)


def test_what_is_thrown_away_says_why_and_what_it_cost(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    assert act(bench, lot, "throw-away", quantity="250").status_code == 422
    assert act(bench, lot, "throw-away", quantity="250", note="past its day").status_code == 302
    page = text_of(bench.get(reverse("inventory:lot-detail", args=[lot.pk])))
    assert "thrown away, which cost 2.50." in page and "past its day" in page


@pytest.mark.parametrize("typed", ["", "0", "-5", "3 oz", "lots", "1e99", "9" * 80, "\x00"])
def test_what_cannot_be_read_changes_nothing(bench, typed):
    lot = w.buy(w.powder(), w.g(1000), 10)
    assert act(bench, lot, "take", quantity=typed).status_code == 422
    assert left(lot) == w.g(1000)


def test_a_day_that_has_not_come_is_refused(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    page = act(bench, lot, "take", quantity="1", day="2099-01-01")
    assert "has not come yet" in page.content.decode()
    assert left(lot) == w.g(1000)


def test_what_is_taken_may_be_for_a_cast(bench):
    cast = cast_some(w.buy(w.grain(), w.g(100), 130))
    lot = w.buy(w.powder(), w.g(1000), 10)
    act(bench, lot, "take", quantity="100", cast_number=str(cast.number))
    assert Entry.objects.get(kind="use").cast == cast
    page = act(bench, lot, "take", quantity="100", cast_number="99")
    assert "There is no cast 99" in page.content.decode()
    assert left(lot) == w.g(900)


def test_metal_is_not_taken_but_charged(bench):
    lot = w.buy(w.grain(), w.g(100), 130)
    assert "Take from stock" not in bench.get(f"/stock/lots/{lot.pk}/").content.decode()
    act(bench, lot, "take", quantity="10")
    assert left(lot) == w.g(100)


def test_a_customer_gets_their_metal_back(bench):
    lot = post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    act(bench, lot, "hand-back", quantity="12.5")
    assert left(lot) == w.g("17.5")


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("throw-away", {"quantity": "12.5", "note": "spilt"}),
        ("hand-back", {"quantity": "12.5"}),
        ("count", {"counted": "17.5"}),
    ],
)
def test_what_left_a_lot_is_taken_back_from_the_page_that_says_so(bench, name, typed):
    lot = post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
    act(bench, lot, name, **typed)
    assert left(lot) == w.g("17.5")
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk])).content.decode()
    way = reverse("inventory:entry-reverse", args=[Entry.objects.latest("pk").pk])
    assert f'<a href="{way}">Take it back</a>' in page
    assert bench.post(way, once())["Location"] == reverse("inventory:lot-detail", args=[lot.pk])
    assert left(lot) == w.g(30)


def test_an_owner_s_name_in_the_message_stays_text(bench):
    customer = Customer.objects.create(name="<b>Ilse</b> & Quill")
    lot = post_handed_in(customer, w.grain(), w.g(30), w.DAY)
    act(bench, lot, "hand-back", quantity="1")
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk])).content.decode()
    assert "&lt;b&gt;Ilse" in page and "<b>Ilse" not in page


def test_an_opened_tub_keeps_less_long(bench):
    Material.objects.filter(pk=w.powder().pk).update(opened_life_days=90)
    lot = w.buy(w.powder(), w.g(1000), 10, use_by=w.DAY + timedelta(days=365))
    act(bench, lot, "open")
    lot.refresh_from_db()
    assert (lot.opened_on, lot.use_by) == (w.DAY, w.DAY + timedelta(days=90))
    page = text_of(bench.get(reverse("inventory:lot-detail", args=[lot.pk])))
    assert ("left, good until" in page) == (lot.use_by >= timezone.localdate())


def test_an_opened_tub_never_keeps_longer(bench):
    Material.objects.filter(pk=w.powder().pk).update(opened_life_days=90)
    lot = w.buy(w.powder(), w.g(1000), 10, use_by=w.DAY + timedelta(days=30))
    act(bench, lot, "open")
    lot.refresh_from_db()
    assert lot.use_by == w.DAY + timedelta(days=30)


def test_a_tub_is_not_opened_before_it_came(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    page = act(bench, lot, "open", day=(w.DAY - timedelta(days=1)).isoformat())
    assert "before it came" in page.content.decode()
    lot.refresh_from_db()
    assert lot.opened_on is None


def test_facts_are_mended_without_moving_stock(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    entries = Entry.objects.count()
    act(bench, lot, "facts", supplier_batch="K-8", use_by="2027-01-31", kept_in="shed", note="swollen lid")
    lot.refresh_from_db()
    assert (lot.supplier_batch, lot.use_by.isoformat(), lot.kept_in) == ("K-8", "2027-01-31", "shed")
    assert lot.note == "swollen lid" and Entry.objects.count() == entries


def test_facts_that_are_wrong_leave_the_lot_as_it_was(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    page = act(bench, lot, "facts", supplier_batch="B" * 61, use_by="never")
    assert page.status_code == 422 and "B" * 61 in page.content.decode()
    lot.refresh_from_db()
    assert lot.supplier_batch == ""


def test_the_history_is_paged(bench):
    lot = w.buy(w.powder(), w.g(1000), 10)
    for _ in range(30):
        act(bench, lot, "take", quantity="1")
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk]))
    assert len(page.context["history"].page.object_list) == 25


# Opening stock and customers' metal


def opening(bench, *rows: dict[str, str], **others: str):
    data = {
        **once(),
        "day": w.DAY.isoformat(),
        "lines-TOTAL_FORMS": str(len(rows)),
        "lines-INITIAL_FORMS": "0",
    }
    for number, row in enumerate(rows):
        data |= {f"lines-{number}-{name}": text for name, text in row.items()}
    return bench.post(reverse("inventory:opening"), {**data, **others})


def test_opening_stock_comes_in_a_lot_a_line_with_costs_marked_as_guesses(bench):
    tub = {"material": str(w.powder().pk), "quantity": "4 kg", "cost": "36"}
    tin = {"material": f"old-clean-{w.sterling().pk}", "quantity": "3 ozt", "cost": "90", "melts": "2"}
    assert opening(bench, tub, tin).status_code == 302
    powder, metal = Lot.objects.select_related("holder").order_by("pk")
    assert powder.holder.quantity == w.g(4000) and powder.cost_is_estimate
    assert metal.holder.quantity == 93_310 and (metal.origin, metal.melts_milli) == ("clean", 2000)


@pytest.mark.parametrize(
    ("typed", "melts", "is_guess", "told"),
    [("2", 2000, False, "2 melts"), ("", 1000, True, "not known, reckoned as 1 melt")],
)
def test_old_buttons_are_never_entered_as_grain(bench, typed, melts, is_guess, told):
    w.grain()
    bench.get(reverse("inventory:opening"))
    opening(
        bench,
        {"material": f"old-clean-{w.sterling().pk}", "quantity": "93.5", "cost": "70", "melts": typed},
    )
    lot = Lot.objects.select_related("material").get()
    assert (lot.material.name, lot.material.form, lot.origin) == ("Sterling, reclaimed", "reclaim", "clean")
    assert (lot.melts_milli, lot.melts_are_guess, lot.fineness_is_guess) == (melts, is_guess, True)
    assert not lot.is_fresh
    page = bench.get(reverse("inventory:lot-detail", args=[lot.pk])).content.decode()
    assert told in page.replace("\u00a0", " ") and problems() == []


def test_the_list_offers_old_metal_of_every_alloy_and_no_reclaim_as_new(bench):
    w.grain()
    w.bronze()
    opening(bench, {"material": f"old-filings-{w.sterling().pk}", "quantity": "9", "cost": "5"})
    page = bench.get(reverse("inventory:opening")).content.decode()
    for words in ("buttons and sprues", "spill", "filings", "sweeps"):
        assert f">Sterling, {words}</option>" in page and f">Bronze, {words}</option>" in page
    assert "Sterling, reclaimed" not in page
    assert opening(bench, {"material": "old-clean-999", "quantity": "9", "cost": "5"}).status_code == 422
    assert Lot.objects.count() == 1


def test_old_metal_goes_to_the_reclaim_that_casts_give(bench):
    opening(bench, {"material": f"old-clean-{w.sterling().pk}", "quantity": "9", "cost": "5"})
    cast_some(w.buy(w.grain(), w.g(100), 130))
    assert Material.objects.filter(form="reclaim").count() == 1


def test_on_the_first_day_a_line_stands_ready_for_each_material(bench):
    grain, powder = w.grain(), w.powder()
    page = bench.get(reverse("inventory:opening")).content.decode()
    for material in (grain, powder):
        assert f'<option value="{material.pk}" selected>' in page
    first, second = {"material": str(grain.pk)}, {"material": str(powder.pk)}
    assert opening(bench, first, second).status_code == 422
    opening(bench, first, {**second, "quantity": "4 kg", "cost": "36"})
    assert Lot.objects.get().material == powder
    later = bench.get(reverse("inventory:opening")).content.decode()
    assert f'<option value="{grain.pk}" selected>' not in later


def test_a_material_that_a_person_chose_is_a_line(bench):
    w.grain()
    full = {"material": str(w.powder().pk), "quantity": "4 kg", "cost": "36"}
    page = opening(bench, full, {}, {"material": str(w.grain().pk)})
    assert page.status_code == 422 and "Write how much of it there is." in page.content.decode()


def test_a_mistake_unfolds_only_its_own_line(bench):
    good = {"material": str(w.powder().pk), "quantity": "4 kg", "cost": "36"}
    page = opening(bench, good, {**good, "use_by": "soon"}).content.decode()
    folds = page.split('<details class="opens seldom"')[1:]
    assert [fold.startswith(" open") for fold in folds] == [False, True]


def test_melts_that_were_not_known_are_mended_when_somebody_knows(bench):
    opening(bench, {"material": f"old-clean-{w.sterling().pk}", "quantity": "9", "cost": "5"})
    lot = Lot.objects.get()
    way = reverse("inventory:entry-mend", args=[lot.entry_id])
    assert 'name="melts"' in (page := bench.get(way).content.decode())
    assert 'value="1"' not in page.split('name="melts"')[1].split(">")[0]
    typed = {**once(), "day": w.DAY.isoformat(), "quantity": "9", "cost": "5", "melts": "2.5"}
    shown = bench.post(way, typed)
    if shown.status_code != 302:
        seen = shown.content.decode().split('name="seen" value="')[1].split('"')[0]
        assert bench.post(way, {**typed, **once(), "seen": seen}).status_code == 302
    lot.refresh_from_db()
    assert (lot.melts_milli, lot.melts_are_guess) == (2500, False) and problems() == []


def test_costs_from_bills_are_no_guesses(bench):
    opening(bench, {"material": str(w.powder().pk), "quantity": "4 kg", "cost": "36"}, is_exact="on")
    assert not Lot.objects.get().cost_is_estimate


def test_one_wrong_lot_keeps_all_of_them_out(bench):
    good = {"material": str(w.powder().pk), "quantity": "4 kg", "cost": "36"}
    wax = {"material": str(w.wax().pk), "quantity": "5 oz", "cost": "3", "melts": "2"}
    page = opening(bench, good, wax)
    html = page.content.decode()
    assert page.status_code == 422 and not Lot.objects.exists()
    assert "Ounces troy" in html and 'value="5 oz"' in html and 'value="4 kg"' in html
    assert "Green wax is not metal" in html


def test_quantity_is_read_in_the_unit_of_its_material(bench):
    resin = Material.objects.create(name="Casting resin", kind="pattern", unit="volume")
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    opening(
        bench,
        {"material": str(resin.pk), "quantity": "0.5 l", "cost": "30"},
        {"material": str(wires.pk), "quantity": "24", "cost": "6"},
    )
    assert list(Lot.objects.order_by("pk").values_list("holder__quantity", flat=True)) == [500_000, 24]


def test_another_lot_in_place_comes_alone_and_saves_nothing(bench):
    first = {"material": str(w.grain().pk), "quantity": "3 oz", "cost": "30"}
    html = opening(bench, first, add_line="lines", in_place="1").content.decode()
    assert html.count("<fieldset") == 1 and 'name="lines-1-quantity"' in html and "<html" not in html
    assert not Lot.objects.exists()


def test_what_was_understood_follows_the_chosen_material(bench):
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")

    def ask(material: str, typed: str) -> str:
        names = {"quantity_field": "q", "material_field": "m", "q": typed, "m": material}
        return bench.get(reverse("inventory:quantity-understood"), names).content.decode()

    assert ask(str(wires.pk), "12") == "12\u00a0items"
    assert ask(str(w.powder().pk), "2 kg") == "2,000\u00a0g"
    assert "Ounces troy" in ask(str(w.powder().pk), "2 oz")
    assert ask(f"old-clean-{w.sterling().pk}", "12.4") == "12.40\u00a0g"
    assert ask("nonsense", "12.4") == ""
    assert ask(str(wires.pk), "0") == "Write more than 0."
    for material in ("", "x", "0", str(FAR_TOO_LARGE)):
        assert ask(material, "2 kg") == ""


def test_a_customers_metal_comes_in_for_a_new_customer(bench):
    typed = {**once(), "day": w.DAY.isoformat(), "material": str(w.grain().pk), "mass": "31.2"}
    answer = bench.post(reverse("inventory:handed-in"), {**typed, "new_customer": "Odo Fennel"})
    assert answer.status_code == 302
    lot = Lot.objects.get()
    assert str(lot.owner) == "Odo Fennel" and lot.holder.quantity == w.g("31.2")
    assert lot.holder.cost_micro == 0


def test_a_customer_known_by_that_name_is_not_made_twice(bench):
    w.customer()
    typed = {**once(), "day": w.DAY.isoformat(), "material": str(w.grain().pk), "mass": "31.2"}
    bench.post(reverse("inventory:handed-in"), {**typed, "new_customer": "ilse  quill"})
    assert Customer.objects.count() == 1


@pytest.mark.parametrize("whose", [{}, {"customer": "{pk}", "new_customer": "Odo Fennel"}])
def test_it_must_be_one_persons_metal(bench, whose):
    known = w.customer()
    whose = {name: text.format(pk=known.pk) for name, text in whose.items()}
    typed = {**once(), "day": w.DAY.isoformat(), "material": str(w.grain().pk), "mass": "31.2"}
    page = bench.post(reverse("inventory:handed-in"), {**typed, **whose})
    assert page.status_code == 422 and 'value="31.2"' in page.content.decode()
    assert not Lot.objects.exists() and Customer.objects.count() == 1


# Materials


def enter_material(bench, kind: str, **typed: str):
    return bench.post(f"{reverse('inventory:material-new')}?kind={kind}", typed)


def test_a_material_is_asked_for_its_kind_first(bench):
    page = bench.get(reverse("inventory:material-new")).content.decode()
    assert page.count("?kind=") == len(Material.Kind.values)


def test_a_powder_is_entered_with_its_water_and_how_long_it_keeps(bench):
    enter_material(
        bench, "powder", name="Fine powder", water="39.5", shelf_life_days="365", opened_life_days="90"
    )
    powder = Material.objects.get()
    assert (powder.kind, powder.unit, powder.water_per_100_tenths) == ("powder", "mass", 395)
    assert (powder.shelf_life_days, powder.opened_life_days) == (365, 90)
    page = bench.get(reverse("inventory:material-edit", args=[powder.pk])).content.decode()
    assert 'value="39.5 %"' in page


@pytest.mark.parametrize(
    ("kind", "typed", "guess"),
    [
        ("powder", {"name": "Fine powder", "guess_a_week": "0.4 kg"}, 400_000),
        ("consumable", {"name": "Pickle", "unit": "volume", "guess_a_week": "25"}, 25_000),
        ("finding", {"name": "Ear wires", "unit": "items", "guess_a_week": "3"}, 3),
        ("finding", {"name": "Ear wires", "unit": "items", "guess_a_week": ""}, None),
    ],
)
def test_a_guess_of_what_a_week_takes_is_read_in_the_materials_own_unit(bench, kind, typed, guess):
    enter_material(bench, kind, **typed)
    material = Material.objects.get()
    assert material.guess_a_week == guess
    page = bench.get(reverse("inventory:material-edit", args=[material.pk])).content.decode()
    shown = {400_000: "400 g", 25_000: "25 ml", 3: "3"}.get(guess)
    assert guess is None or f'value="{shown}"' in page, page[page.index("guess_a_week") - 50 :][:400]


@pytest.mark.parametrize("guess", ["0", "-3", "2.5", "a lot", "9" * 25])
def test_a_guess_that_cannot_be_is_refused_beside_its_field(bench, guess):
    page = enter_material(bench, "finding", name="Ear wires", unit="items", guess_a_week=guess)
    assert page.status_code == 422 and 'id="id_guess_a_week_error"' in page.content.decode()
    assert not Material.objects.exists()


@pytest.mark.parametrize(
    "typed",
    [{"water": "39.55"}, {"water": "500"}, {"shelf_life_days": "0"}, {"name": ""}, {"name": "N" * 81}],
)
def test_a_powder_that_cannot_be_is_refused(bench, typed):
    page = enter_material(bench, "powder", **{"name": "Fine powder", **typed})
    assert page.status_code == 422 and not Material.objects.exists()


def test_a_metal_without_a_name_is_named_after_its_alloy_and_form(bench):
    assert enter_material(bench, "metal", alloy=str(w.sterling().pk), form="grain").status_code == 302
    assert Material.objects.get().name == "Sterling grain"


def test_an_alloy_has_one_reclaim(bench):
    for name in ("Tin", "Other tin"):
        page = enter_material(bench, "metal", alloy=str(w.sterling().pk), form="reclaim", name=name)
    assert page.status_code == 422 and "has its reclaim already" in page.content.decode()
    assert Material.objects.count() == 1


def test_a_name_is_used_once_whatever_its_capitals(bench):
    w.powder()
    page = enter_material(bench, "powder", name="investment POWDER")
    assert "of this name already" in page.content.decode()


def test_unit_and_alloy_stay_once_there_are_lots(bench):
    w.buy(w.grain(), w.g(100), 130)
    address = reverse("inventory:material-edit", args=[w.grain().pk])
    typed = {"name": "Casting grain", "form": "grain", "alloy": str(w.bronze().pk)}
    assert "fixed while the page was open" in bench.post(address, typed).content.decode()
    del typed["alloy"]
    bench.post(address, typed)
    grain = Material.objects.get()
    assert (grain.name, grain.alloy) == ("Casting grain", w.sterling())


def test_an_archived_alloy_stays_with_its_material(bench):
    grain = w.grain()
    Alloy.objects.update(archived=True)
    answer = bench.post(
        reverse("inventory:material-edit", args=[grain.pk]),
        {"name": "Casting grain", "form": "grain", "alloy": str(grain.alloy_id)},
    )
    assert answer.status_code == 302


def test_a_material_is_put_away_and_no_longer_offered(bench):
    powder = w.powder()
    bench.post(reverse("inventory:archive", args=["material", powder.pk]))
    powder.refresh_from_db()
    assert powder.archived
    page = bench.get(reverse("inventory:delivery-new")).content.decode()
    assert ">Investment powder</option>" not in page


def test_pages_of_stock_are_for_who_signed_in(client):
    User.objects.create_user("bench")
    answer = client.get(reverse("inventory:stock"))
    assert answer.status_code == 302 and "sign-in" in answer["Location"]
