"""The pages where a studio writes down its cost rules and what metal costs."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from costing.core.price import compute_price_per_g, compute_price_per_kg
from costing.models import MetalPrice, Policy
from tests.support import let_in, text_of
from tests.workshop import DAY, bronze, buy, cast_metal, g, grain, make_studio, money, piece, sterling

pytestmark = pytest.mark.django_db

LIST, NEW = "/setup/cost-rules/", "/setup/cost-rules/new/"
PRICES, NEW_PRICE = "/setup/metal-prices/", "/setup/metal-prices/new/"
TYPED = {
    "from_day": "2026-03-01",
    "normal_loss_pct100": "1.5 %",
    "reclaim_resale": "",
    "hourly_rate_micro": "22.00",
    "overhead_per_hour_micro": "6.50",
    "energy_micro_per_kwh": "0.27",
    "consumables_per_cast_micro": "1.40",
    "consumables_per_piece_micro": "0.35",
    "loss_basis": "grams",
    "powder_basis": "volume",
    "pattern_basis": "volume",
    "energy_basis": "volume",
    "wear_basis": "grams",
    "consumables_basis": "equally",
    "time_basis": "equally",
    "wholesale_method": "multiple",
    "wholesale_hundredths": "2.5 times",
    "retail_method": "margin",
    "retail_hundredths": "60 %",
    "tax_pct100": "20",
    "price_step_micro": "1",
    "price_rounding": "up",
}


@pytest.fixture
def mira(client: Client) -> Client:
    make_studio()
    let_in(client, User.objects.create_user("mira", password="lantern-moss-42"))
    return client


def policy(day: date = DAY, **changes: Any) -> Policy:
    return Policy.objects.create(from_day=day, **changes)


def price(day: date = DAY, **changes: Any) -> MetalPrice:
    facts = {"alloy": sterling(), "price_micro": money("0.98"), "per_unit": "g", **changes}
    return MetalPrice.objects.create(day=day, **facts)


def page(client: Client, address: str, typed: dict[str, str] | None = None) -> str:
    answer = client.get(address) if typed is None else client.post(address, typed)
    assert answer.status_code == (200 if typed is None else 422)
    return text_of(answer)


def test_rules_are_kept_as_they_were_typed(mira: Client) -> None:
    answer = mira.post(NEW, TYPED, follow=True)
    assert answer.redirect_chain == [(LIST, 302)]
    rules = Policy.objects.get()
    assert rules.from_day == date(2026, 3, 1)
    assert (rules.normal_loss_pct100, rules.hourly_rate_micro) == (150, money(22))
    assert (rules.wholesale_method, rules.wholesale_hundredths) == ("multiple", 250)
    assert (rules.retail_method, rules.retail_hundredths) == ("margin", 6000)
    assert (rules.tax_pct100, rules.price_step_micro) == (2000, money(1))
    assert rules.reclaim_resale_micro_per_kg is None


def test_new_rules_start_from_the_newest_and_from_today(mira: Client) -> None:
    policy(DAY - timedelta(days=30), hourly_rate_micro=money(19))
    policy(DAY, hourly_rate_micro=money(22), retail_method="margin", retail_hundredths=6250)
    shown = page(mira, NEW)
    assert 'value="22.00"' in shown
    assert 'value="62.5 %"' in shown
    assert f'value="{timezone.localdate().isoformat()}"' in shown


def test_the_first_rules_say_that_they_cost_what_is_past_too(mira: Client) -> None:
    words = "What was cast before their first day is costed by them too."
    assert words in page(mira, NEW)
    policy()
    assert words not in page(mira, NEW)


def test_later_rules_say_that_they_cost_what_is_past_only_before_the_oldest(mira: Client) -> None:
    policy(date(2026, 3, 2))
    policy(date(2026, 5, 1))
    assert "begin before your oldest rules do they cost what is past" in page(mira, NEW)
    assert "everything that was cast before 2 Mar 2026" in page(mira, NEW)


def test_the_oldest_rules_say_that_they_cost_what_was_cast_before_them(mira: Client) -> None:
    oldest, newer = policy(date(2026, 3, 2)), policy(date(2026, 5, 1))
    words = "They are your oldest: what was cast before 2 Mar 2026 is costed by them too."
    assert words in page(mira, reverse("costing:policy-edit", args=[oldest.pk]))
    # A refused save has not moved them.
    refused = {**TYPED, "from_day": "2026-06-01", "tax_pct100": "101"}
    assert words in page(mira, reverse("costing:policy-edit", args=[oldest.pk]), refused)
    assert "your oldest: what" not in page(mira, reverse("costing:policy-edit", args=[newer.pk]))


def test_rules_that_begin_later_count_until_then_too(mira: Client) -> None:
    assert "None yet. Until then an hour at the bench costs nothing." in page(mira, "/setup/")
    tomorrow = timezone.localdate() + timedelta(days=1)
    policy(tomorrow)
    assert "They are your oldest, so they count before that day too." in page(mira, "/setup/")


def test_saving_a_copy_leaves_the_rules_it_came_from_alone(mira: Client) -> None:
    old = policy(date(2026, 1, 1), hourly_rate_micro=money(19))
    mira.post(NEW, TYPED)
    old.refresh_from_db()
    assert (old.from_day, old.hourly_rate_micro) == (date(2026, 1, 1), money(19))
    assert Policy.objects.count() == 2


def test_what_the_page_shows_saves_back_to_the_same_rules(mira: Client) -> None:
    rules = policy(reclaim_resale_micro_per_kg=money(750), energy_micro_per_kwh=money("0.2719"))
    before = Policy.objects.values().get()
    form = mira.get(reverse("costing:policy-edit", args=[rules.pk])).context["form"]
    shown = {field.html_name: str(field.value() if field.value() is not None else "") for field in form}
    assert shown["reclaim_resale"] == "0.75 per g"
    assert mira.post(reverse("costing:policy-edit", args=[rules.pk]), shown).status_code == 302
    assert Policy.objects.values().get() == before


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("retail_hundredths", "100 %", "Write less than 100 %, or choose the multiple above."),
        ("retail_hundredths", "250", "Write less than 100 %, or choose the multiple above."),
        ("retail_hundredths", "2.5 times", "This is a multiple."),
        ("retail_hundredths", "-5", "This cannot be below zero."),
        ("retail_hundredths", "some", "Write a margin such as 60 %."),
        ("wholesale_hundredths", "60 %", "This is a margin."),
        ("wholesale_hundredths", "0", "Write more than 0"),
        ("wholesale_hundredths", "1001", "Write more than 0 and at most 1,000 times."),
        ("wholesale_hundredths", "2.345", "Write at most 2 decimals."),
        ("wholesale_hundredths", "", "Write how much"),
        ("wholesale_method", "guess", "Choose one that is in the list."),
        ("normal_loss_pct100", "51", "The most this field takes is 50 %."),
        ("tax_pct100", "101", "The most this field takes is 100 %."),
        ("hourly_rate_micro", "10000001", "The most this field takes is 10,000,000.00."),
        ("hourly_rate_micro", "", "Write an amount of money such as 12.50."),
        ("price_step_micro", "0", "Write more than 0."),
        ("reclaim_resale", "0.75 per oz", "Ounces troy or ounces avoirdupois?"),
        ("from_day", "1999-12-31", "Write a day from 1 Jan 2000 on."),
        ("from_day", "2099-01-01", "That is more than a year ahead."),
        ("time_basis", "moon", "Choose one that is in the list."),
    ],
)
def test_a_refused_save_says_how_to_mend_it_and_keeps_what_was_typed(
    mira: Client, field: str, typed: str, sentence: str
) -> None:
    shown = page(mira, NEW, {**TYPED, "overhead_per_hour_micro": "6.75", field: typed})
    assert sentence in shown
    assert 'value="6.75"' in shown
    assert not typed or field.endswith(("basis", "method")) or f'value="{typed}"' in shown
    assert not Policy.objects.exists()


def test_a_second_set_of_rules_from_a_day_is_led_to_the_first(mira: Client) -> None:
    first = policy(date(2026, 3, 1))
    shown = page(mira, NEW, TYPED)
    assert f'<a href="/setup/cost-rules/{first.pk}/">Change those rules</a>' in shown
    assert Policy.objects.count() == 1


def test_a_resale_value_is_kept_for_the_kilogram(mira: Client) -> None:
    mira.post(NEW, {**TYPED, "reclaim_resale": "0.75 per g"})
    assert Policy.objects.get().reclaim_resale_micro_per_kg == money(750)


def test_changing_rules_says_which_casts_it_touches(mira: Client) -> None:
    cast_metal([(buy(grain(), g(500), 490), 100)], [piece("fern stud", 50)], back=49)
    rules = policy(DAY)
    newer = policy(DAY + timedelta(days=10))
    touched = page(mira, reverse("costing:policy-edit", args=[rules.pk]))
    assert "1 cast is costed by them. Changing them changes what that cast costs." in touched
    assert "until 11 Mar 2026" in touched
    assert "write down new rules from a new day" in touched
    assert "No cast is costed by them yet" in page(mira, reverse("costing:policy-edit", args=[newer.pk]))


def test_the_oldest_rules_count_what_was_cast_before_them(mira: Client) -> None:
    cast_metal([(buy(grain(), g(500), 490), 100)], [piece("fern stud", 50)], back=49)
    rules = policy(DAY + timedelta(days=5))
    assert "1 cast is costed by them" in page(mira, reverse("costing:policy-edit", args=[rules.pk]))


def test_the_list_of_rules_says_how_prices_are_made(mira: Client) -> None:
    policy(retail_method="margin", retail_hundredths=6000, wholesale_hundredths=250)
    shown = page(mira, LIST)
    assert "margin 60 %" in shown
    assert "2.5 times the cost" in shown
    assert b"2.5" in mira.get(LIST, {"export": "csv"}).getvalue()


def test_an_empty_list_of_rules_says_what_to_do_first(mira: Client) -> None:
    assert "Write down your cost rules" in page(mira, LIST)


def test_the_set_up_page_leads_to_the_rules_and_the_prices(mira: Client) -> None:
    policy()
    price()
    shown = page(mira, "/setup/")
    assert f'href="{LIST}"' in shown
    assert "Sterling, 0.98 per g on 2 Mar 2026" in shown


def test_a_price_is_kept_as_it_was_told(mira: Client) -> None:
    typed = {"alloy": str(sterling().pk), "day": "2026-03-02", "price": "30.50 per ozt"}
    assert mira.post(NEW_PRICE, typed).url == PRICES  # type: ignore[attr-defined]
    kept = MetalPrice.objects.get()
    assert (kept.price_micro, kept.per_unit, kept.day) == (money("30.50"), "ozt", DAY)


def test_prices_stand_beside_each_other_by_the_gram(mira: Client) -> None:
    price(price_micro=money("31.103476"), per_unit="ozt")
    shown = page(mira, PRICES)
    assert "31.103476 per ozt" in shown
    assert ">1.0000<" in shown


def test_prices_are_taken_away_exactly(mira: Client) -> None:
    price(price_micro=money("30.5"), per_unit="ozt")
    lines = mira.get(PRICES, {"export": "csv"}).getvalue().decode("utf-8-sig").splitlines()
    assert lines[0] == "Day,Metal,Price (GBP),Price per,A gram (GBP)"
    assert lines[1] == "2026-03-02,Sterling,30.50,ozt,0.980598"


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("price", "0", "Write more than 0."),
        ("price", "0.98 per bag", "Write a price such as 0.98 per g or 30.50 per ozt."),
        ("price", "10000001", "The most this field takes is 10,000,000.00."),
        ("price", "", "Write a price such as 30.50 per g."),
        ("day", "2099-01-01", "That day has not come yet."),
        ("day", "soon", "This day cannot be read."),
        ("alloy", "99999", "Choose one that is in the list."),
        ("alloy", "", "Choose one."),
    ],
)
def test_a_refused_price_says_how_to_mend_it_and_keeps_what_was_typed(
    mira: Client, field: str, typed: str, sentence: str
) -> None:
    whole = {"alloy": str(sterling().pk), "day": "2026-03-02", "price": "0.98 per g"}
    shown = page(mira, NEW_PRICE, {**whole, field: typed})
    assert sentence in shown
    assert field == "price" or 'value="0.98 per g"' in shown
    assert not MetalPrice.objects.exists()


def test_a_second_price_on_a_day_is_led_to_the_first(mira: Client) -> None:
    first = price()
    shown = page(mira, NEW_PRICE, {"alloy": str(first.alloy_id), "day": "2026-03-02", "price": "1.10"})
    assert f'<a href="/setup/metal-prices/{first.pk}/">Change that price</a>' in shown
    assert MetalPrice.objects.get().price_micro == money("0.98")


def test_a_price_is_changed_where_it_stands(mira: Client) -> None:
    first = price()
    address = reverse("costing:price-edit", args=[first.pk])
    assert 'value="0.98 per g"' in page(mira, address)
    mira.post(address, {"alloy": str(first.alloy_id), "day": "2026-03-02", "price": "980 per kg"})
    first.refresh_from_db()
    assert (first.price_micro, first.per_unit) == (money(980), "kg")


def test_an_alloy_put_away_keeps_its_prices_and_gets_no_new_ones(mira: Client) -> None:
    old = price(alloy=bronze())
    bronze_again = old.alloy
    bronze_again.archived = True
    bronze_again.save()
    assert "Bronze</option>" in page(mira, reverse("costing:price-edit", args=[old.pk]))
    assert "Bronze</option>" not in page(mira, NEW_PRICE)


@pytest.mark.parametrize("address", ["/setup/cost-rules/999/", "/setup/metal-prices/999/"])
def test_what_is_not_there_is_not_found(mira: Client, address: str) -> None:
    assert mira.get(address).status_code == 404


@pytest.mark.parametrize("address", [LIST, NEW, PRICES, NEW_PRICE])
def test_a_page_asks_no_more_of_a_long_list(
    mira: Client, address: str, django_assert_max_num_queries: Any
) -> None:
    for days in range(40):
        policy(DAY - timedelta(days=days))
        price(DAY - timedelta(days=days))
    with django_assert_max_num_queries(8):
        mira.get(address)


def test_prices_are_paged(mira: Client) -> None:
    for days in range(40):
        price(DAY - timedelta(days=days))
    assert "1 to 25 of 40" in page(mira, PRICES)


def test_an_ounce_troy_is_31_1034768_grams() -> None:
    # The international yard and pound agreement of 1959: a grain is 64.79891 mg, an ounce troy 480 grains; computed.
    assert compute_price_per_g(31_103_477, "ozt") == 1_000_000
    assert compute_price_per_kg(980_000, "g") == 980_000_000
