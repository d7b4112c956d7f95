"""The account of a metal: what was here and came in is what went out and is here."""

import pytest

from costing.core.melt_shares import share_melt
from costing.core.metal_account import CASTING, COUNTS, FOUND, End, Flow, check_account, compute_accounts
from inventory.core.ledger import Amount

SILVER, GOLD = (1, None), (2, None)
LOT, CRUCIBLE = End("lot", key=SILVER), End("crucible", key=SILVER)
OLD, NEW = End("piece", key=SILVER), End("piece", key=SILVER, is_new=True)
OTHER_LOT = End("lot", key=GOLD)
NOTHING = Amount()
TEN, THREE = Amount(10, 9_250, 13), Amount(3, 2_775, 4)


def place(name):
    return End("outside", place=name)


def account_of(held, *flows, key=SILVER):
    account = compute_accounts(held, flows)[key]
    assert check_account(account) == ""
    return account


def test_what_is_held_with_nothing_moved_was_held_before():
    account = account_of([(LOT, TEN), (OLD, THREE), (NEW, THREE), (place("lost"), TEN)])
    assert dict(account.opening) == {"lot": TEN, "piece_old": THREE, "piece_new": THREE}
    assert dict(account.closing) == dict(account.opening)
    assert account.total_in == account.total_out == TEN + THREE + THREE


@pytest.mark.parametrize(
    ("source", "kind", "line"),
    [
        (place("supplier"), "delivery", "bought"),
        (place("supplier"), "late_bill", "late_bill"),
        (place("opening"), "opening", "opening"),
        (place("customer"), "handed_in", "handed_in"),
        (place("counted"), "count", "counted"),
        (place("lost"), "found", "found"),
        (place("lost"), "use", "came_else"),
        (place("used"), "use", "came_else"),
        (OTHER_LOT, "charge", "from_other"),
    ],
)
def test_what_comes_in_has_a_line(source, kind, line):
    account = account_of([(LOT, TEN)], Flow(source, LOT, kind, TEN, NOTHING))
    assert dict(account.came) == {line: TEN}
    assert account.opening["lot"] == NOTHING and account.closing["lot"] == TEN
    assert not account.went


@pytest.mark.parametrize(
    ("source", "target", "kind", "line"),
    [
        (NEW, place("customer"), "sale", "sold_new"),
        (OLD, place("customer"), "sale", "sold_old"),
        (LOT, place("customer"), "hand_back", "handed_back"),
        (LOT, OTHER_LOT, "charge", "to_other"),
        (CRUCIBLE, place("alloyed"), "charge", "alloyed"),
        (CRUCIBLE, place("lost"), "close", "lost_pour"),
        (NEW, place("lost"), "finish", "lost_finish"),
        (LOT, place("lost"), "use", "went_else"),
        (LOT, place("counted"), "count", "missing"),
        (LOT, place("scrapped"), "scrap", "scrapped"),
        (LOT, place("used"), "use", "went_else"),
    ],
)
def test_what_goes_out_has_a_line(source, target, kind, line):
    account = account_of([], Flow(source, target, kind, TEN, NOTHING))
    assert dict(account.went) == {line: TEN}
    assert account.opening[source.held] == TEN and account.closing[source.held] == NOTHING
    assert not account.came


@pytest.mark.parametrize(("kind", "line"), [("close", "lost_pour"), ("finish", "lost_finish")])
def test_what_the_scale_gave_back_is_taken_off_what_was_lost(kind, line):
    account = account_of(
        [(NEW, THREE)],
        Flow(CRUCIBLE, place("lost"), kind, TEN, NOTHING),
        Flow(place("lost"), NEW, kind, THREE, NOTHING),
    )
    assert dict(account.went) == {line: TEN - THREE}
    assert not account.came


def test_what_moved_since_is_taken_off_what_is_held_today():
    account = account_of(
        [(LOT, TEN)],
        Flow(place("supplier"), LOT, "delivery", THREE, TEN),
        Flow(LOT, place("used"), "use", NOTHING, THREE),
    )
    assert account.opening["lot"] == Amount()
    assert account.closing["lot"] == THREE
    assert dict(account.came) == {"bought": THREE}


def test_what_stays_within_an_account_crosses_nothing():
    account = account_of([(CRUCIBLE, TEN)], Flow(LOT, CRUCIBLE, "charge", TEN, NOTHING))
    assert account.opening["lot"] == TEN and account.closing["crucible"] == TEN
    assert not account.came and not account.went


def test_an_account_of_nothing_is_left_out():
    assert compute_accounts([(LOT, NOTHING)], [Flow(LOT, CRUCIBLE, "charge", NOTHING, NOTHING)]) == {}


def test_books_that_were_altered_are_told():
    account = account_of([(LOT, TEN)])
    account.closing["lot"] += Amount(1, -2, 3)
    assert check_account(account).startswith(
        "The two sides differ by -1 mg, 2 micrograms fine and -3 millionths"
    )


def test_the_losses_of_an_account_are_what_went_less_what_came_back():
    spill = End("lot", key=SILVER, sort="spill")
    account = account_of(
        [(LOT, TEN)],
        Flow(CRUCIBLE, place("lost"), "close", TEN, NOTHING, 3),
        Flow(place("lost"), LOT, "found", THREE, NOTHING, 1),
        Flow(LOT, place("counted"), "count", THREE, NOTHING, 2),
        Flow(place("counted"), LOT, "count", TEN, NOTHING, 4),
        Flow(spill, place("scrapped"), "scrap", THREE, NOTHING, 5),
        Flow(place("supplier"), LOT, "delivery", TEN, NOTHING, 1),
        Flow(NEW, place("customer"), "sale", THREE, NOTHING, 1),
    )
    assert account.losses == {
        CASTING: TEN,
        "Spill thrown away": THREE,
        COUNTS: THREE - TEN,
        FOUND: NOTHING - THREE,
    }
    assert account.weighings_of(COUNTS) == 6
    assert (account.gained, account.parted) == (TEN, THREE)
    assert account.start + account.gained == account.parted + account.lost + account.end


def test_what_changes_its_alloy_and_what_comes_back_is_no_coming_in_of_the_whole():
    flows = (
        Flow(LOT, OTHER_LOT, "send", THREE, NOTHING),
        Flow(NEW, place("customer"), "sale", TEN, NOTHING),
        Flow(place("customer"), NEW, "return", THREE, NOTHING),
    )
    silver, gold = account_of([(NEW, THREE)], *flows), account_of([(NEW, THREE)], *flows, key=GOLD)
    assert (silver.gained, silver.came_back, silver.turned, silver.parted) == (
        NOTHING,
        THREE,
        NOTHING - THREE,
        TEN,
    )
    assert (gold.gained, gold.turned) == (NOTHING, THREE)
    for one in (silver, gold):
        assert one.start + one.gained + one.came_back + one.turned == one.parted + one.lost + one.end


def test_a_melt_is_shared_by_what_each_alloy_sent():
    # 64.12 g and 20 g lost 2.92 g together: 2.92 * 20 / 84.12 = 0.694 g; fine metal
    # 2,657,696 * 17,250,000 / 76,561,000 = 598,807.3.
    sent = {SILVER: Amount(64_120, 59_311_000, 60), GOLD: Amount(20_000, 17_250_000, 0)}
    shares = share_melt(Amount(2_920, 2_657_696, 6), sent, SILVER)
    assert shares == {GOLD: Amount(694, 598_807, 0)}


def test_metal_that_passes_to_a_customer_is_not_of_another_alloy():
    theirs = (1, 7)
    flow = Flow(LOT, End("lot", key=theirs), "top_up", TEN, NOTHING)
    assert dict(account_of([], flow).went) == {"to_owner": TEN}
    assert dict(account_of([], flow, key=theirs).came) == {"from_owner": TEN}
