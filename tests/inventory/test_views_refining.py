"""Pages of refiners and batches: written down, sent, settled, sent back, found again."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from costing.models import FinePrice
from inventory.core.ledger import Amount
from inventory.models import Alloy, Batch, Lot, Refiner, Settlement
from inventory.posting.casting import Portion
from inventory.posting.refining import BatchFacts, SettledPart, post_send, post_settle, write_terms
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.tables.refining import batch_rows
from tests import workshop as w
from tests.support import count_queries, once, plain, problems, text_of

pytestmark = pytest.mark.django_db
DAY = w.DAY.isoformat()
NO_METAL = {"metals-TOTAL_FORMS": "1", "metals-INITIAL_FORMS": "0"}


@pytest.fixture
def lot(bench):
    return w.buy(w.grain(), w.g(100), 92)


@pytest.fixture
def terms(bench):
    return write_terms(
        w.refiner(),
        w.DAY,
        silver_pct100=9_500,
        charge_micro=w.money(10),
        rate_micro=w.money("0.30"),
        minimum_mg=w.g(50),
        usual_days=20,
    )


def send(lot, terms, grams=60):
    facts = BatchFacts(w.refiner(), terms, "W-7", (w.money(1), "g"))
    return post_send(facts, [Portion(lot, w.g(grams))], w.DAY)


def sending(lot, **changes):
    typed = {"refiner": w.refiner().pk, "day": DAY, "price": "1 per g", f"all_{lot.pk}": "on"}
    return {**once(), **typed, **changes}


def paper(**changes):
    typed = {
        "melted": "59",
        "assay": "921.5",
        "payable": "95",
        "price": "1 per g",
        "charge": "10",
        "day": DAY,
    }
    return {**once(), **NO_METAL, **typed, **changes}


def test_what_was_sent_adds_up_as_it_is_shown(bench):
    sent = {w.buy(w.grain(), w.g(10), 5): Amount(1_005, 929_625, 333_333) for _ in range(3)}
    rows = batch_rows(sent)
    assert [[row[name] for row in rows] for name in ("mass", "fine", "cost")] == [
        [1_010, 1_010, 1_000],
        [930_000, 930_000, 929_000],
        [340_000, 330_000, 330_000],
    ]


def test_a_refiner_is_written_down_with_terms_and_new_terms_keep_the_old(bench):
    typed = {
        "name": "Fell End Refining",
        "since": "2026-01-01",
        "silver": "95",
        "charge": "75",
        "usual_days": "21",
    }
    bench.post("/setup/refiners/new/", typed | {"rate": "0.30", "minimum": "16 ozt"})
    refiner = Refiner.objects.get()
    first = refiner.terms.get()
    assert (first.rate_micro, first.rate_unit, first.minimum_mg) == (300_000, "ozt", 497_656)
    page = bench.get(f"/setup/refiners/{refiner.pk}/")
    assert page.context["form"]["rate"].value() == "0.30 per ozt"
    bench.post(f"/setup/refiners/{refiner.pk}/", typed | {"since": "2026-06-01", "silver": "96"})
    assert list(refiner.terms.values_list("silver_pct100", flat=True)) == [9_600, 9_500]


def test_terms_without_any_metal_are_refused(bench):
    answer = bench.post("/setup/refiners/new/", {"name": "A", "since": DAY, "usual_days": "21"})
    assert answer.status_code == 422
    assert "Write what is payable of one metal" in text_of(answer)


def test_with_one_metal_the_page_opens_on_its_lots(bench, lot):
    assert bench.get("/stock/batches/new/")["Location"] == "/stock/batches/new/?metal=silver"
    assert "All 100.00 g" in text_of(bench.get("/stock/batches/new/?metal=silver"))


def test_what_a_batch_would_bring_stands_on_the_page_before_it_is_sent(bench, lot, terms):
    said = text_of(bench.post("/stock/batches/ahead/?metal=silver", sending(lot)))
    # 87.875 g payable at 1 a gram, less 10.
    assert "77.88 GBP would be left" in said
    assert "The charges take 11.38 % of what is payable." in said
    little = sending(lot, **{f"all_{lot.pk}": "", f"mass_{lot.pk}": "20"})
    assert "30.00 g is missing" in text_of(bench.post("/stock/batches/ahead/?metal=silver", little))
    assert "Choose a refiner" in text_of(bench.post("/stock/batches/ahead/?metal=silver", once()))


def test_metal_to_expect_is_one_figure_where_filings_are_sent_and_in_what_they_bring(bench, lot, terms):
    Lot.objects.filter(pk=lot.pk).update(origin=Lot.Origin.FILINGS)
    said = text_of(bench.get("/stock/batches/new/?metal=silver"))
    assert (
        "92.500 g fine, if all of it were metal; 85 % is reckoned to be, so 78.625 g is to be expected"
        in said
    )
    # 95 % of 78.625 g at 1 a gram is 74.69, less 10.
    assert "64.69 GBP would be left" in text_of(
        bench.post("/stock/batches/ahead/?metal=silver", sending(lot))
    )


def test_without_a_price_it_says_so_and_offers_the_one_that_is_known(bench, lot, terms):
    said = text_of(bench.post("/stock/batches/ahead/?metal=silver", sending(lot, price="")))
    assert "There is no price yet" in said and "To pay would be 10.00 GBP." in said
    FinePrice.objects.create(metal="silver", day=w.DAY, price_micro=w.money(24), per_unit="ozt")
    form = bench.get("/stock/batches/new/?metal=silver").context["form"]
    assert form["price"].value() == "24.00 per ozt"
    assert "Yours of Mon 2 Mar 2026 is 24.00 per ozt." in form["price"].help_text.replace(
        "\N{NO-BREAK SPACE}", " "
    )


def test_a_settlement_that_would_be_refused_says_so_before_it_is_sent(bench, lot, terms):
    ahead = f"/stock/batches/{send(lot, terms).pk}/settle/ahead/"
    assert "It cannot melt to more than was sent" in text_of(bench.post(ahead, paper(melted="70")))
    back = {"metals-0-what": lot.material.pk, "metals-0-mass": "100"}
    assert "more than is payable" in text_of(bench.post(ahead, paper(**back)))


def test_charges_above_the_worth_are_told_without_a_minus(bench, lot, terms):
    little = sending(lot, **{f"all_{lot.pk}": "", f"mass_{lot.pk}": "2"})
    said = text_of(bench.post("/stock/batches/ahead/?metal=silver", little))
    # 95 % of 1.85 g at 1 a gram is 1.76, less 10.
    assert "The charges would eat all that it is worth and 8.24 GBP more" in said
    assert said.partition("<details")[0].count("Not yet") == 1 and "would be left" not in said
    batch = send(lot, terms, 2)
    assert "The charges eat the worth of 1.758 g of fine metal and 8.24 GBP more." in text_of(
        bench.get(f"/stock/batches/{batch.pk}/")
    )


def test_none_of_the_metals_says_that_it_may_stay_empty_for_one_is_needed(bench):
    page = bench.get("/setup/refiners/new/")
    assert not any(page.context["form"][name].is_optional for name in ("silver", "gold"))
    assert page.context["form"]["charge"].is_optional


def test_a_batch_is_sent_and_its_page_says_where_it_is(bench, lot, terms):
    answer = bench.post("/stock/batches/new/?metal=silver", sending(lot, **{f"mass_{lot.pk}": "60"}))
    batch = Batch.objects.get()
    assert answer["Location"] == f"/stock/batches/{batch.pk}/"
    assert (batch.holder.quantity, batch.terms, batch.price) == (60_000, terms, (w.money(1), "g"))
    said = text_of(bench.get(answer["Location"]))
    assert "60.00 g at the refiner since" in said
    assert "They usually take 20 days" in said
    assert "42.73 GBP after charge and fee, for 52.725 g of fine metal." in said


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"refiner": ""}, "Choose to whom it goes."),
        ({"all": ""}, "Tick the lots that go"),
        ({"mass": "101"}, "holds 100.00 g"),
    ],
)
def test_a_sending_that_cannot_be_is_refused_beside_its_field(bench, lot, terms, changes, sentence):
    own = {f"{name}_{lot.pk}" if name in ("all", "mass") else name: text for name, text in changes.items()}
    answer = bench.post("/stock/batches/new/?metal=silver", sending(lot, **own))
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert not Batch.objects.exists()


def test_a_refiner_that_does_not_take_the_metal_is_said(bench, terms):
    gold = w.Alloy.objects.create(name="Gold", metal="gold", fineness=750, density_mg_cm3=15_500)
    lot = w.buy(w.grain(gold), w.g(10), 500)
    answer = bench.post("/stock/batches/new/?metal=gold", sending(lot))
    assert "Their terms name no payable share of gold" in text_of(answer)


def test_a_settlement_is_filled_from_the_terms_and_written_down(bench, lot, terms):
    batch = send(lot, terms)
    form = bench.get(f"/stock/batches/{batch.pk}/settle/").context["form"]
    assert [form[name].value() for name in ("payable", "charge", "price")] == ["95 %", "10.00", "1.00 per g"]
    back = {"metals-0-what": w.grain().pk, "metals-0-mass": "20"}
    ahead = f"/stock/batches/{batch.pk}/settle/ahead/"
    # 59 g at 921.5 are 54.3685 g fine; 95 % of it less 18.5 that came back, less 10.
    assert "23.15 GBP" in text_of(bench.post(ahead, paper(**back)))
    answer = bench.post(f"/stock/batches/{batch.pk}/settle/", paper(**back))
    assert answer.status_code == 302
    made = Lot.objects.get(origin="refined")
    said = text_of(bench.get(answer["Location"]))
    assert f"Lot {made.pk}, Sterling grain" in said
    assert "A loss of" in said and "23.15 GBP came in money" in said
    assert (Settlement.objects.get().assay, problems()) == (92_150, [])


def test_an_assay_far_from_the_book_is_asked_about(bench, lot, terms):
    batch = send(lot, terms)
    answer = bench.post(f"/stock/batches/{batch.pk}/settle/", paper(assay="291.5"))
    assert answer.status_code == 422
    assert "The book has 925 in it, and this is 291.5. Is it right?" in text_of(answer)
    assert not Settlement.objects.exists()


def test_a_refusal_of_the_posting_stands_beside_its_field(bench, lot, terms):
    batch = send(lot, terms)
    answer = bench.post(f"/stock/batches/{batch.pk}/settle/", paper(melted="70"))
    assert answer.status_code == 422
    assert "It cannot melt to more than was sent" in answer.context["form"].errors["melted"][0]
    too_much = paper(**{"metals-0-what": w.grain().pk, "metals-0-mass": "59"})
    answer = bench.post(f"/stock/batches/{batch.pk}/settle/", too_much)
    assert "more than is payable" in text_of(answer)
    # What was drawn before it was refused is in the batch still, also on the page that says so.
    before = (w.DAY - timedelta(days=1)).isoformat()
    for page, typed in (("settle", paper()), ("send-back", {f"mass_{lot.pk}": "60", **once()})):
        answer = bench.post(f"/stock/batches/{batch.pk}/{page}/", typed | {"day": before})
        assert answer.status_code == 422
        assert "would be" in answer.context["form"].errors["day"][0]
        assert answer.context["batch"].holder.quantity == w.g(60)


def test_a_settlement_is_mended_on_the_page_of_its_entry(bench, lot, terms):
    batch = send(lot, terms)
    part = SettledPart(w.g(59), 92_150, 9_500, price=(w.money(1), "g"))
    entry = post_settle(batch, part, w.DAY).entry
    page = bench.get(f"/ledger/{entry.pk}/mend/")
    assert page.context["form"]["assay"].value() == "921.5"
    typed = paper(melted="58", seen="")
    page = bench.post(f"/ledger/{entry.pk}/mend/", typed)
    if page.status_code != 302:
        page = bench.post(f"/ledger/{entry.pk}/mend/", typed | {"seen": page.context["foreseen"].mark})
    assert page["Location"] == f"/stock/batches/{batch.pk}/"
    assert Settlement.objects.get().melted_mg == 58_000


def test_a_batch_comes_back_unsettled(bench, lot, terms):
    batch = send(lot, terms)
    form = bench.get(f"/stock/batches/{batch.pk}/send-back/").context["form"]
    assert form[f"mass_{lot.pk}"].value() == "60 g"
    bench.post(f"/stock/batches/{batch.pk}/send-back/", {**once(), "day": DAY, f"mass_{lot.pk}": "59.5"})
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == 99_500
    assert "came back unsettled" in text_of(bench.get(f"/stock/batches/{batch.pk}/"))
    answer = bench.get(f"/stock/batches/{batch.pk}/settle/")
    assert answer["Location"] == f"/stock/batches/{batch.pk}/"


@pytest.mark.parametrize("page", ["send-back", "settle"])
def test_a_batch_whose_sending_was_taken_back_leads_to_its_page(bench, lot, terms, page):
    batch = send(lot, terms)
    post_reversal(batch.entry)
    for answer in (
        bench.get(f"/stock/batches/{batch.pk}/{page}/"),
        bench.post(f"/stock/batches/{batch.pk}/{page}/"),
    ):
        assert (answer.status_code, answer.url) == (302, f"/stock/batches/{batch.pk}/")


def test_stock_home_search_and_lot_tell_of_a_batch(bench, lot, terms):
    batch = send(lot, terms)
    stock = text_of(bench.get("/stock/"))
    assert "At the refiner" in stock and "92.00 GBP in all" in stock
    assert f"Batch {batch.pk}</a>, 60.00 g at Weir House Refining: was to be settled" in text_of(
        bench.get("/")
    )
    assert f"/stock/batches/{batch.pk}/" in text_of(bench.get("/search/?q=weir"))
    assert bench.get(f"/search/?q=batch+{batch.pk}").context["meant"].title == f"Batch {batch.pk}"
    assert f"batch {batch.pk}</a>, 60.00 g" in text_of(bench.get(f"/stock/lots/{lot.pk}/"))
    trace = reverse("costing:report", args=["trace-lot"])
    assert "Sent to a refiner" in text_of(bench.get(f"{trace}?lot={lot.pk}"))
    value = reverse("costing:report", args=["stock-value"])
    assert "Sterling, at the refiner" in text_of(bench.get(f"{value}?day={timezone.localdate()}"))


def test_the_papers_of_a_batch(bench, lot, terms):
    batch = send(lot, terms)
    packing = text_of(bench.get(f"{reverse('costing:report', args=['packing-list'])}?batch={batch.pk}"))
    assert "In the parcel" in packing and "55.20" not in packing and "Cost" not in packing
    post_settle(batch, SettledPart(w.g(59), 92_150, 9_500, price=(w.money(1), "g")), w.DAY)
    settled = text_of(bench.get(f"{reverse('costing:report', args=['settlement'])}?batch={batch.pk}"))
    assert "Expected and settled" in settled
    # Payable: 52.725 g were expected, 51.650 g were settled.
    assert "−1.075 g" in settled
    for name in ("packing-list", "settlement"):
        file = bench.get(reverse("costing:report", args=[name, "pdf"]), {"batch": batch.pk})
        assert file.content.startswith(b"%PDF")


def test_without_a_batch_a_paper_says_so(bench):
    assert "Nothing was sent to a refiner yet." in text_of(
        bench.get(reverse("costing:report", args=["settlement"]))
    )


@pytest.mark.counts
def test_pages_ask_no_more_however_many_lots_and_batches_there_are(bench, lot, terms):
    first = send(lot, terms, 1)
    pages = ["/stock/batches/", "/stock/batches/new/?metal=silver", "/stock/", f"/stock/batches/{first.pk}/"]
    before = [count_queries(lambda page=page: bench.get(page)) for page in pages]
    for grams in (2, 3, 4):
        send(w.buy(w.grain(), w.g(10), 9), terms, grams)
    assert [count_queries(lambda page=page: bench.get(page)) for page in pages] == before


def test_a_batch_that_is_not_late_is_not_on_the_first_page(bench, lot, terms):
    batch = send(lot, terms)
    Batch.objects.filter(pk=batch.pk).update(sent_on=timezone.localdate() - timedelta(days=20))
    assert "was to be settled" not in text_of(bench.get("/"))


def test_bronze_is_sent_and_settled_by_its_weight_without_an_assay(bench, lot):
    bronze = w.buy(w.grain(w.bronze()), w.g(2000), 30)
    refiner = {"name": "Quay Metals", "since": DAY, "base": "80", "charge": "2", "usual_days": "7"}
    bench.post("/setup/refiners/new/", refiner)
    there = Refiner.objects.get()
    jar = w.buy(w.grain(w.bronze()), w.g(10), 1)
    Lot.objects.filter(pk=jar.pk).update(origin=Lot.Origin.FILINGS, fineness_by="guess")
    offered = text_of(bench.get("/stock/batches/new/?metal=base"))
    assert "Bronze, of which 85 % is reckoned to be metal: 8.500 g is to be expected" in offered
    assert "bronze, brass and the like 80 % of the weight" in text_of(
        bench.get(f"/setup/refiners/{there.pk}/")
    )
    assert "Bronze, brass and the like, the studio's own" in plain(text_of(bench.get("/stock/batches/new/")))
    page = bench.get(f"/stock/lots/{bronze.pk}/").content.decode()
    assert f"?metal=base&amp;owner=&amp;lot={bronze.pk}" in page and "Write down an assay" not in page
    typed = sending(bronze, refiner=there.pk, price="5")
    ahead = text_of(bench.post("/stock/batches/ahead/?metal=base", typed))
    # 80 % of 2 kg at 5 a kilogram, less 2.
    assert "6.00 GBP would be left" in ahead and "fine metal" not in ahead
    bench.post("/stock/batches/new/?metal=base", typed)
    batch = Batch.objects.get()
    assert (batch.price_micro, batch.price_unit) == (w.money(5), "kg")
    said = {**once(), **NO_METAL, "melted": "1900", "payable": "80", "price": "5", "charge": "2", "day": DAY}
    address = f"/stock/batches/{batch.pk}/settle/"
    assert 'name="assay"' not in bench.get(address).content.decode()
    settled = text_of(bench.post(f"{address}ahead/", said))
    # 1.9 kg, of which 1.52 kg are paid at 5.
    assert "5.60 GBP" in settled and "fine metal" not in settled
    bench.post(address, said)
    settlement = Settlement.objects.get()
    assert settlement.money_micro == w.money("5.60")
    moved = {
        line.what: (line.quantity, line.fine_ug, line.cost_micro) for line in settlement.entry.movements.all()
    }
    # 100 of 2000 g lost with 1.50 of 30; 28.50 over 1520 g paid for and 380 g kept.
    assert moved == {
        "loss": (w.g(100), 0, w.money("1.50")),
        "paid": (w.g(1520), 0, w.money("22.80")),
        "kept": (w.g(380), 0, w.money("5.70")),
    }
    page = text_of(bench.get(f"/stock/batches/{batch.pk}/"))
    assert "melted to 1,900 g." in page
    assert f"Batch {batch.pk}, Bronze for Quay Metals" in page and "of fine metal" not in page
    mend = bench.get(f"/ledger/{settlement.entry_id}/mend/").content.decode()
    assert 'name="melted"' in mend and 'name="assay"' not in mend
    assert "melted to 1,900 g." in text_of(bench.get(f"/reports/settlement/?batch={batch.pk}"))
    assert problems() == []


def test_what_is_paid_by_weight_is_sent_by_its_alloy_and_takes_no_assay(bench, lot):
    brass = Alloy.objects.create(name="Brass", metal="base", fineness=0, density_mg_cm3=8400)
    lots = [w.buy(w.grain(alloy), w.g(500), 9) for alloy in (w.bronze(), brass)]
    with pytest.raises(Refused, match="send Brass and Bronze apart"):
        post_send(BatchFacts(w.refiner()), [Portion(one, w.g(9)) for one in lots], w.DAY)
    with pytest.raises(Refused, match="send no precious metal and silver apart"):
        post_send(BatchFacts(w.refiner()), [Portion(one, w.g(9)) for one in (lot, lots[0])], w.DAY)
    batch = post_send(BatchFacts(w.refiner()), [Portion(lots[0], w.g(500))], w.DAY)
    with pytest.raises(Refused, match="without an assay"):
        post_settle(batch, SettledPart(w.g(500), 90_000, 8_000), w.DAY)
    silver = post_send(BatchFacts(w.refiner()), [Portion(lot, w.g(9))], w.DAY)
    with pytest.raises(Refused, match="paid for by its assay"):
        post_settle(silver, SettledPart(w.g(9), 100_000, 8_000, by_weight=True), w.DAY)
