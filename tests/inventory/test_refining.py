"""A batch at a refiner: the metal stays the studio's until it is settled, and all of it is accounted for."""

from datetime import date, timedelta

import pytest

from costing.core.metal_account import check_account, compute_accounts
from costing.queries.held import things_on
from costing.queries.metal import metal_flows, metal_held
from inventory.core.ledger import Amount, total_of
from inventory.core.refining import Charges
from inventory.models import Batch, Entry, Holder, Lot, Material, Movement, Settlement
from inventory.posting.casting import Portion
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.refining import (
    BatchFacts,
    MetalBack,
    SettledPart,
    post_send,
    post_sent_back,
    post_settle,
    write_terms,
)
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from inventory.queries.refining import batches_with, late_batches, outcomes_of, terms_on
from tests import workshop as w
from tests.support import problems

pytestmark = pytest.mark.django_db
LATER = w.DAY + timedelta(days=21)
PRICE = (w.money(1), "g")


@pytest.fixture(autouse=True)
def _studio():
    w.make_studio()


@pytest.fixture
def lot():
    return w.buy(w.grain(), w.g(100), 92)


def send(lot, grams=100, day=w.DAY, **facts):
    return post_send(BatchFacts(w.refiner(), **facts), [Portion(lot, w.g(grams))], day)


def fine_grain() -> Material:
    return Material.objects.get_or_create(
        name="Fine grain", defaults={"kind": "metal", "alloy": w.fine_silver(), "form": "grain"}
    )[0]


#: 100 g of 925, cost 92: melts to 98 g, assays 900, pays 95 %; 50 g of fine silver come back, charges 8.379.
def paper(**changes):
    metals = [MetalBack(fine_grain(), w.g(50))]
    return SettledPart(
        w.g(98), 90_000, 9_500, Charges(w.money("6.379"), w.money(2)), PRICE, metals, **changes
    )


def amount_at(place) -> Amount:
    rows = Movement.objects.filter(target__place=place).values_list("quantity", "fine_ug", "cost_micro")
    return total_of(Amount(*row) for row in rows)


def held(holder) -> Amount:
    holder.refresh_from_db()
    return Amount(holder.quantity, holder.fine_ug, holder.cost_micro)


def test_a_batch_holds_what_left_the_lots_and_stays_in_the_stock(lot):
    batch = send(lot, 40)
    assert held(batch.holder) == Amount(40_000, 37_000_000, w.money("36.8"))
    assert held(lot.holder) == Amount(60_000, 55_500_000, w.money("55.2"))
    assert total_of(one.amount for one in things_on(w.DAY)).cost_micro == w.money(92)
    assert [(one.pk, mass) for one, mass in batches_with(lot)] == [(batch.pk, 40_000)]
    assert problems() == []


def test_a_settlement_puts_each_difference_in_its_place(lot):
    batch = send(lot)
    settlement = post_settle(batch, paper(), LATER)
    assert held(batch.holder) == Amount()
    back = Lot.objects.get(origin="refined")
    # Of 88.2 g fine 83.79 are payable, 50 of them as metal: 33.79 are paid in money, 4.41 kept.
    assert settlement.money_micro == w.money("33.79") - w.money("8.379")
    assert amount_at("ref_lost") == Amount(2_000, 1_850_000, w.money("1.84"))
    assert amount_at("ref_assay") == Amount(0, 2_450_000, 0)
    assert amount_at("refiner").fine_ug == 33_790_000 + 4_410_000
    # Of what is left of the cost, 90.16, the metal that came back has 50 of 88.2; and 50 of 83.79 of the charges.
    assert held(back.holder) == Amount(50_000, 50_000_000, 51_111_111 + 5_000_000)
    assert (back.material, back.melts_milli, back.fineness_is_guess) == (fine_grain(), 0, False)
    assert problems() == []


def test_what_money_came_is_told_against_what_the_book_had(lot):
    batch = send(lot)
    post_settle(batch, paper(), LATER)
    [outcome] = outcomes_of(batch)
    assert outcome.part == Amount(100_000, 92_500_000, w.money(92))
    assert outcome.gone_micro == w.money(92) - 51_111_111
    assert outcome.money_micro == w.money("33.79") - (w.money("8.379") - w.money(5))
    assert outcome.gain_micro == outcome.money_micro - outcome.gone_micro


def test_a_part_is_settled_and_the_rest_stays(lot):
    batch = send(lot)
    part = SettledPart(w.g(29), 92_500, 9_500, price=PRICE, received_mg=w.g(30))
    post_settle(batch, part, LATER)
    assert held(batch.holder) == Amount(70_000, 64_750_000, w.money("64.4"))
    post_settle(batch, SettledPart(w.g(70), 92_500, 9_500, price=PRICE), LATER)
    assert held(batch.holder) == Amount()
    assert problems() == []


def test_a_batch_that_comes_back_unsettled_fills_its_lots_again(lot):
    other = w.buy(w.grain(), w.g(10), 13)
    portions = [Portion(lot, w.g(40)), Portion(other, w.g(10))]
    batch = post_send(BatchFacts(w.refiner()), portions, w.DAY)
    post_sent_back(batch, [Portion(lot, w.g("39.5")), Portion(other, w.g(10))], LATER)
    assert held(batch.holder) == Amount()
    assert held(lot.holder) == Amount(99_500, 92_037_500, w.money("91.54"))
    assert held(other.holder) == Amount(10_000, 9_250_000, w.money(13))
    assert amount_at("ref_lost") == Amount(500, 462_500, w.money("0.46"))
    assert problems() == []


def test_a_customers_batch_carries_no_cost_and_gives_back_their_own_metal():
    theirs = post_handed_in(w.customer(), w.grain(), w.g(100), w.DAY)
    batch = send(theirs)
    post_settle(batch, paper(), LATER)
    back = Lot.objects.get(origin="refined")
    assert (batch.owner, back.owner) == (w.customer(), w.customer())
    assert held(back.holder).cost_micro == 0
    assert Settlement.objects.get().charge_micro == w.money("6.379")
    assert problems() == []


def test_what_cannot_be_is_refused_and_changes_nothing(lot):
    gold = w.Alloy.objects.create(name="Gold", metal="gold", fineness=750, density_mg_cm3=15_500)
    golden, base = w.buy(w.grain(gold), w.g(5), 300), w.buy(w.grain(w.bronze()), w.g(5), 1)
    theirs = post_handed_in(w.customer(), w.grain(), w.g(5), w.DAY)
    for other in (golden, base, theirs):
        with pytest.raises(Refused):
            post_send(BatchFacts(w.refiner()), [Portion(lot, 1_000), Portion(other, 1_000)], w.DAY)
    with pytest.raises(Refused, match="more than that"):
        send(lot, 101)
    batch = send(lot)
    before = Movement.objects.count()
    refused = {
        "received": SettledPart(w.g(98), 90_000, 9_500, received_mg=w.g(101)),
        "melted": SettledPart(w.g("102.1"), 90_000, 9_500),
        "metal": SettledPart(w.g(98), 90_000, 9_500, metals=[MetalBack(fine_grain(), w.g("83.8"))]),
    }
    for field, part in refused.items():
        with pytest.raises(Refused) as found:
            post_settle(batch, part, LATER)
        assert found.value.field == field
    with pytest.raises(Refused, match="another kind"):
        post_settle(batch, SettledPart(w.g(98), 90_000, 9_500, metals=[MetalBack(w.grain(gold), 1)]), LATER)
    with pytest.raises(Refused, match="more cannot come back"):
        post_sent_back(batch, [Portion(lot, w.g(101))], LATER)
    with pytest.raises(Refused, match="not in this batch"):
        post_sent_back(batch, [Portion(theirs, w.g(1))], LATER)
    assert Movement.objects.count() == before


def test_an_empty_batch_is_settled_no_more(lot):
    batch = send(lot)
    post_settle(batch, paper(), LATER)
    with pytest.raises(Refused, match="holds nothing any more"):
        post_settle(batch, paper(), LATER)


def test_mending_what_was_sent_carries_through_the_settlement(lot):
    batch = send(lot)
    post_settle(batch, paper(), LATER)
    entry = Entry.objects.get(pk=batch.entry_id)
    post_mended({entry: Mend(w.DAY, [Portion(lot, w.g(99))])})
    batch.refresh_from_db()
    settlement = Settlement.objects.get()
    assert (settlement.received_mg, settlement.void) == (99_000, False)
    assert batch.entry.replaces == entry
    [outcome] = outcomes_of(batch)
    assert outcome.lost.quantity == 1_000
    assert held(lot.holder).quantity == 1_000
    assert problems() == []


def test_a_mended_paper_keeps_its_lot_and_its_money_follows(lot):
    batch = send(lot)
    entry = post_settle(batch, paper(), LATER).entry
    back = Lot.objects.get(origin="refined")
    given = read_given(entry)
    assert given.money_micro is None
    post_mended({entry: Mend(LATER, paper(money_micro=w.money(20)))})
    assert Settlement.objects.get().money_micro == w.money(20)
    again = Entry.objects.get(replaces=entry)
    assert read_given(again).money_micro == w.money(20)
    assert Lot.objects.get(origin="refined", void=False) == back


def test_a_settlement_taken_back_leaves_the_batch_as_it_was_sent(lot):
    batch = send(lot)
    entry = post_settle(batch, paper(), LATER).entry
    with pytest.raises(Refused):
        post_reversal(batch.entry)
    post_reversal(entry)
    assert held(batch.holder) == Amount(100_000, 92_500_000, w.money(92))
    assert Settlement.objects.get().void and Lot.objects.get(origin="refined").void
    post_reversal(batch.entry)
    assert Batch.objects.get().void
    assert held(lot.holder) == Amount(100_000, 92_500_000, w.money(92))
    assert problems() == []


def test_the_account_of_the_metal_has_the_refiner_as_a_stage(lot):
    day = w.DAY - timedelta(days=1)
    batch = send(lot)
    key = (w.sterling().pk, None)

    def account(last):
        found = compute_accounts(metal_held(day), metal_flows(day, last))
        assert not any(check_account(one) for one in found.values())
        return found[key]

    assert account(w.DAY).closing["batch"] == Amount(100_000, 92_500_000, w.money(92))
    post_settle(batch, paper(), LATER)
    went = account(LATER).went
    assert went["refined_lost"] == Amount(2_000, 1_850_000, w.money("1.84"))
    assert went["refined_assay"].fine_ug == 2_450_000
    assert went["refined_out"].fine_ug == 38_200_000
    assert went["to_other"].fine_ug == 50_000_000
    assert account(w.DAY).closing["batch"].quantity == 100_000


def test_each_alloy_of_a_batch_bears_its_own_share_of_the_melt(lot):
    day = w.DAY - timedelta(days=1)
    fine = w.buy(fine_grain(), w.g(20), 30)
    batch = post_send(BatchFacts(w.refiner()), [Portion(lot, w.g(80)), Portion(fine, w.g(20))], w.DAY)
    post_settle(batch, SettledPart(w.g(95), 90_000, 9_500, Charges(), PRICE), LATER)
    accounts = compute_accounts(metal_held(day), metal_flows(day, LATER))
    assert not any(check_account(one) for one in accounts.values())
    sterling, pure = (accounts[alloy.pk, None] for alloy in (w.sterling(), w.fine_silver()))
    assert (sterling.losses["At the refiner"].quantity, pure.losses["At the refiner"].quantity) == (
        4_000,
        1_000,
    )
    assert (sterling.gained.quantity, pure.gained.quantity) == (100_000, 20_000)
    assert (sterling.turned.quantity, pure.turned.quantity) == (19_000, -19_000)


def test_a_batch_is_late_once_its_usual_days_are_over(lot):
    terms = write_terms(w.refiner(), w.DAY, silver_pct100=9_500, usual_days=10)
    batch = send(lot, terms=terms)
    assert late_batches(w.DAY + timedelta(days=10)) == []
    assert late_batches(w.DAY + timedelta(days=11)) == [batch]


def test_the_terms_of_a_day_are_those_in_force():
    old = write_terms(w.refiner(), date(2026, 1, 1), silver_pct100=9_000)
    new = write_terms(w.refiner(), date(2026, 5, 1), silver_pct100=9_500)
    assert terms_on(w.refiner(), date(2026, 4, 30)) == old
    assert terms_on(w.refiner(), date(2026, 5, 1)) == new
    assert terms_on(w.refiner(), date(2025, 5, 1)) == old
    assert write_terms(w.refiner(), date(2026, 5, 1), silver_pct100=9_600).pk == new.pk


def test_the_audit_names_a_settlement_whose_lines_are_not_its_paper(lot):
    settlement = post_settle(send(lot), paper(), LATER)
    Settlement.objects.filter(pk=settlement.pk).update(assay=91_000)
    assert any(f"entry {settlement.entry_id} moved" in one for one in problems())


def test_the_audit_names_a_batch_with_the_metal_of_another(lot):
    batch = send(lot)
    Batch.objects.update(owner=w.customer())
    assert any(f"batch {batch.pk}, which have different owners" in one for one in problems())
    assert Holder.objects.get(batch=batch).kind == "batch"
