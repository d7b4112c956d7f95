"""Pages of pure metal, premiums, price rules, channels and terms, and of casting for others."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from costing.models import (
    AlloyPremium,
    CastingTerms,
    Channel,
    FinePrice,
    MetalPrice,
    NamedRule,
    Policy,
    PricePractice,
)
from inventory.models import Cast, Material
from inventory.posting.stock import post_handed_in
from studio.kit.printing import print_day, print_money
from tests import workshop as w
from tests.support import count_queries, text_of, words_of

pytestmark = pytest.mark.django_db

PASTE = "/setup/pure-metal/paste/"
RULE = {
    "name": "Market",
    "method": "margin",
    "value": "60 %",
    "time": "",
    "added_micro": "0",
    "least_per_hour_micro": "0",
    "metal": "higher",
    "step_micro": "1",
    "rounding": "up",
}
CHANNEL = {
    "name": "Saturday market",
    "rule": "",
    "commission_pct100": "10",
    "card_pct100": "1.75",
    "card_micro": "0.20",
    "day_micro": "45",
    "sold_a_day": "9",
    "shipping_micro": "0",
    "tax": "in",
}


def sent(bench, address, status=302, **typed):
    answer = bench.post(address, typed)
    assert answer.status_code == status, text_of(answer)
    return answer


def test_a_rule_and_a_channel_are_kept_as_they_were_typed(bench):
    sent(bench, "/setup/price-rules/new/", **RULE)
    rule = NamedRule.objects.get()
    assert (rule.method, rule.value_hundredths, rule.counts_failures) == ("margin", 6_000, False)
    sent(bench, "/setup/channels/new/", **CHANNEL | {"rule": str(rule.pk)})
    channel = Channel.objects.get()
    assert (channel.commission_pct100, channel.card_micro, channel.day_micro) == (1_000, 200_000, w.money(45))
    assert "Saturday market" in text_of(bench.get("/setup/channels/"))
    sent(
        bench,
        "/setup/prices/",
        old_price_days="7",
        failed_days="365",
        usual_channel=channel.pk,
        floor_rule=rule.pk,
    )
    assert PricePractice.objects.get().usual_channel == channel
    assert "margin 60 %" in text_of(bench.get("/setup/price-rules/"))


def test_a_rule_by_parts_keeps_both_numbers(bench):
    parts = {
        "method": "parts",
        "value": "2",
        "time": "1.5 times",
        "added_micro": "3",
        "counts_failures": "on",
    }
    sent(bench, "/setup/price-rules/new/", **RULE | parts)
    rule = NamedRule.objects.get()
    assert (rule.value_hundredths, rule.time_hundredths, rule.added_micro) == (200, 150, w.money(3))
    assert rule.counts_failures
    shown = text_of(bench.get(f"/setup/price-rules/{rule.pk}/"))
    assert 'value="1.5 times"' in shown


@pytest.mark.parametrize(
    ("address", "typed", "sentence"),
    [
        ("/setup/price-rules/new/", RULE | {"value": "100 %"}, "Write less than 100 %"),
        ("/setup/price-rules/new/", RULE | {"value": "2 times"}, "This is a multiple."),
        (
            "/setup/price-rules/new/",
            RULE | {"method": "parts", "value": "2"},
            "how many times the time counts",
        ),
        ("/setup/price-rules/new/", RULE | {"step_micro": "0"}, "Write more than 0"),
        ("/setup/channels/new/", CHANNEL | {"commission_pct100": "100"}, "The most this field takes"),
        (
            "/setup/channels/new/",
            CHANNEL | {"commission_pct100": "60", "card_pct100": "39.5"},
            "The fees eat the price",
        ),
        ("/setup/channels/new/", CHANNEL | {"sold_a_day": "0"}, "Write 1 or more."),
    ],
)
def test_what_gives_no_price_is_refused_beside_its_field(bench, address, typed, sentence):
    assert sentence in text_of(sent(bench, address, 422, **typed))
    assert not NamedRule.objects.exists()
    assert not Channel.objects.exists()


def test_lines_are_shown_as_understood_before_they_are_kept(bench):
    typed = {"metal": "silver", "unit": "ozt", "lines": "2026-11-01 28.40\n2026-11-02;0,95 per g"}
    FinePrice.objects.create(metal="silver", day="2026-11-02", price_micro=1)
    shown = sent(bench, PASTE, 422, **typed)
    assert "2 days of silver, 1 Nov 2026 to 2 Nov 2026, from 28.40 per ozt to 0.95 per g." in text_of(shown)
    assert "which is replaced: 2 Nov 2026 was 0.000001" in text_of(shown)
    assert FinePrice.objects.count() == 1
    doubt = shown.context["form"].asked["lines"][0]
    sent(bench, PASTE, **typed | {"sure": doubt.key})
    kept = FinePrice.objects.order_by("day").values_list("price_micro", "per_unit")
    assert list(kept) == [(28_400_000, "ozt"), (950_000, "g")]


def test_each_bad_line_of_a_file_is_named_and_nothing_is_kept(bench):
    content = b"day,price\n2026-11-01,28.40\n2026-13-01,28.50\n2026-11-03,oops\n"
    answer = bench.post(
        PASTE, {"metal": "gold", "unit": "g", "file": SimpleUploadedFile("gold.csv", content)}
    )
    shown = text_of(answer)
    assert answer.status_code == 422
    assert "Line 3, “2026-13-01,28.50”: There is no such day." in shown
    assert "Line 4, “2026-11-03,oops”" in shown
    assert "2026-11-01,28.40" in shown
    assert not FinePrice.objects.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"\xff\xfe\x00", "no text that can be read"),
        (b"", "This file is empty."),
        (b"1" * 200_001, "too large"),
    ],
)
def test_a_file_that_holds_no_lines_is_refused(bench, content, sentence):
    answer = bench.post(
        PASTE, {"metal": "gold", "unit": "g", "file": SimpleUploadedFile("gold.csv", content)}
    )
    assert answer.status_code == 422
    assert sentence in text_of(answer)


def test_one_price_a_day_and_one_premium_an_alloy(bench):
    typed = {"metal": "silver", "day": "2026-11-01", "price": "28.40"}
    sent(bench, "/setup/pure-metal/new/", **typed)
    assert "There is" not in text_of(bench.get("/setup/pure-metal/"))
    assert "has a price on this day already" in text_of(sent(bench, "/setup/pure-metal/new/", 422, **typed))
    premium = {"alloy": w.sterling().pk, "share_pct100": "4", "per_gram": "0.05"}
    sent(bench, "/setup/premiums/new/", **premium)
    assert AlloyPremium.objects.get().micro_per_kg == w.money(50)
    assert "has a premium already" in text_of(sent(bench, "/setup/premiums/new/", 422, **premium))


@pytest.fixture
def leaf(bench):
    silver = w.buy(w.grain(), w.g(200), 200)
    return w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back="60").pieces.get()


def test_a_piece_is_priced_by_pure_metal_with_the_makers_premium_and_an_old_price_says_so(bench, leaf):
    today = timezone.localdate()
    FinePrice.objects.create(
        metal="silver", day=today - timedelta(20), price_micro=w.money("31.1034768"), per_unit="ozt"
    )
    AlloyPremium.objects.create(alloy=leaf.cast.alloy, share_pct100=0, micro_per_kg=w.money(75))
    shown = text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))
    # 40 g at 0.925 × 1.00 + 0.075 = 1.00.
    assert "<dt>To make again today</dt><dd>40.00</dd>" in shown
    assert "20 days old: more than your limit of 14" in shown
    MetalPrice.objects.create(alloy=leaf.cast.alloy, day=today, price_micro=w.money(2))
    shown = text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))
    assert "<dt>To make again today</dt><dd>80.00</dd>" in shown
    assert "days old" not in shown


def test_channels_stand_with_what_each_leaves(bench, leaf):
    rule = NamedRule.objects.create(
        name="Margin", method="margin", value_hundredths=5_000, step_micro=w.money(1)
    )
    Channel.objects.create(name="Gallery", commission_pct100=5_000, rule=rule)
    shown = text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))
    # Cost 40: 80 is to be left at the gallery, which keeps half of 160.
    assert "160.00" in shown
    assert "Gallery by Margin" in shown
    assert "No time at the bench is written down for it" in shown
    assert "No firing is written down for its cast" in shown


def test_a_price_that_pays_for_no_energy_says_so(bench, leaf):
    Cast.objects.update(firing=w.fire())
    without = "this price pays for no energy"
    assert without in text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))
    Policy.objects.create(from_day=w.DAY, energy_micro_per_kwh=w.money("0.30"))
    assert without not in text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))


def test_what_if_moves_the_price_and_keeps_nothing(bench, leaf):
    MetalPrice.objects.create(alloy=leaf.cast.alloy, day=timezone.localdate(), price_micro=w.money(1))
    asked = {"metal": "3 per g", "hourly_rate": "40", "failures": "10", "pieces": "4"}
    shown = text_of(bench.get(f"/pieces/{leaf.pk}/cost/", asked))
    assert "<dt>With metal as tried</dt><dd>120.00</dd>" in shown
    assert "This is tried with Sterling at 3.00 per g." in shown
    assert 'hx-get="/pieces/' in shown
    assert MetalPrice.objects.count() == 1
    wrong = text_of(bench.get(f"/pieces/{leaf.pk}/cost/", asked | {"pieces": "0", "metal": "3 per oz"}))
    assert "Write 1 or more." in wrong
    assert "Ounces troy or" in wrong


def test_a_picture_shows_the_price_as_metal_moves(bench, leaf):
    MetalPrice.objects.create(alloy=leaf.cast.alloy, day=timezone.localdate(), price_micro=w.money(1))
    shown = text_of(bench.get(f"/pieces/{leaf.pk}/cost/"))
    assert "The price as its metal moves" in shown
    assert "Sterling, per g" in shown


def test_a_customers_cast_tells_what_the_work_costs_them(bench):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    cast = w.cast_metal([(theirs, 50)], [w.piece("Ring", 20)], back=30, owner=w.customer())
    address = f"/casts/{cast.number}/cost/"
    assert "Write down what you ask for casting" in text_of(bench.get(address))
    terms = {"per_gram": "1.20", "flask_micro": "18", "mould_micro": "25", "metal_pct100": "10"}
    sent(bench, "/setup/casting-for-others/new/", name="Trade", **terms)
    ring = cast.pieces.get()
    shown = text_of(bench.get(f"/pieces/{ring.pk}/cost/"))
    # 20 g at 1.20 and a flask, and no price as if its metal were the studio's.
    assert "Casting it costs Ilse Quill 42.00, before tax." in shown
    assert "metal: their own" in shown and "Retail" not in shown and "By channel" not in shown
    assert "Retail" not in text_of(bench.get(address))
    listed = bench.get("/prices/").context
    assert (listed["rows"], listed["theirs"]) == ([], [(ring, w.money(42))])
    said = text_of(bench.get(f"/pieces/{ring.pk}/price/", follow=True))
    assert "own metal: what casting it costs them is said with its cost" in said
    assert "The work costs them 42.00" in text_of(bench.get(address))
    assert "The work costs them 42.00" in text_of(bench.get(address, {"part": "1"}))
    MetalPrice.objects.create(alloy=cast.alloy, day=timezone.localdate(), price_micro=w.money(1))
    MetalPrice.objects.update(day=timezone.localdate() - timedelta(15))
    # Two moulds, and 20 g at 1.00 and 10 %.
    asked = {"terms": CastingTerms.objects.get().pk, "moulds": "2", "metal": "studio"}
    shown = text_of(bench.get(address, asked))
    assert "The work costs them 114.00" in shown
    assert "15 days old: more than your limit of 14" in shown
    assert "Write 0 or more." in text_of(bench.get(address, asked | {"moulds": "-1"}))


def test_the_page_of_a_piece_asks_no_more_with_many_prices_and_channels(bench, leaf):
    def read():
        assert bench.get(f"/pieces/{leaf.pk}/cost/").status_code == 200

    rule = NamedRule.objects.create(name="Margin")
    Channel.objects.create(name="One", rule=rule)
    FinePrice.objects.create(metal="silver", day=timezone.localdate(), price_micro=1_000_000)
    few = count_queries(read)
    for place in range(8):
        Channel.objects.create(name=f"Channel {place}", rule=rule)
        day = w.DAY + timedelta(place)
        FinePrice.objects.create(metal="silver", day=day, price_micro=1_000_000)
        MetalPrice.objects.create(alloy=leaf.cast.alloy, day=day, price_micro=1_000_000)
    assert count_queries(read) == few


def test_metal_to_be_ordered_is_told_at_the_price_of_a_day_with_the_premium(bench):
    """Pure silver at 20 a gram: 18.50 of it in a gram of sterling, and a tenth on top."""
    w.buy(w.grain(), w.g(5), 8)
    Material.objects.filter(pk=w.grain().pk).update(guess_a_week=w.g(20))
    assert "At the price last paid that is about" in words_of(bench.get("/buying/"))
    FinePrice.objects.create(metal="silver", day=w.DAY, price_micro=w.money(20), per_unit="g")
    AlloyPremium.objects.create(alloy=w.sterling(), share_pct100=1000)
    page = words_of(bench.get(f"/buying/materials/{w.grain().pk}/"))
    assert f"At the price of {print_day(w.DAY, with_year=True)} that is about".replace("\xa0", " ") in page
    # A parcel is of 5 g.
    amount = bench.get(f"/buying/materials/{w.grain().pk}/").context["one"].outlook.amount
    assert amount % w.g(5) == 0 and f"about {print_money(w.money('20.35') * amount // 1000)}" in page
    assert "A gram to buy again" in page


def test_nothing_chosen_yet_is_said_in_a_word(bench):
    for address in ("pure-metal", "premiums"):
        said = text_of(bench.get(f"/setup/{address}/new/"))
        assert '<option value="" selected>Choose</option>' in said and "-----" not in said
