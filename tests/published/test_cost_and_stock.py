"""Cost of what is used and stock that is left, against worked examples of bookkeeping."""

from datetime import date

from costing.core.inputs import CastInput, PieceInput, PolicyInput
from costing.core.price import PriceRule, Rule, compute_left, compute_price
from costing.core.rollup import compute_cast_cost, compute_printed
from costing.core.wear import compute_wear
from inventory.core.ledger import Amount, draw
from inventory.core.picking import LotOnHand, suggest_first_to_expire, suggest_oldest_first
from studio.kit.units import MICRO_PER_UNIT


class Shelf:
    """Lots of single items, taken through the studio's own arithmetic."""

    def __init__(self):
        self.lots: dict[int, tuple[date, Amount]] = {}

    def buy(self, key, day, quantity, price):
        self.lots[key] = (day, Amount(quantity, 0, quantity * price * MICRO_PER_UNIT))

    def take(self, takes):
        cost_micro = 0
        for key, quantity in takes:
            day, held = self.lots[key]
            gone = draw(held, quantity)
            self.lots[key] = (day, held - gone)
            cost_micro += gone.cost_micro
        return cost_micro

    def sell_oldest_first(self, quantity):
        suggestion = suggest_oldest_first(self.on_hand(), quantity, "items")
        assert not suggestion.problem
        return self.take(suggestion.takes)

    def on_hand(self):
        return [LotOnHand(key, f"lot {key}", day, held.quantity) for key, (day, held) in self.lots.items()]

    @property
    def cost_micro(self):
        return sum(held.cost_micro for _, held in self.lots.values())


def _units(amount):
    return amount * MICRO_PER_UNIT


def test_first_in_first_out():
    """OpenStax, Principles of Accounting vol. 1, 10.3; read: cost of sales 2,520 + 4,680 = 7,200, stock 8,955."""
    shelf = Shelf()
    shelf.buy(1, date(2026, 7, 1), 150, 21)
    assert shelf.sell_oldest_first(120) == _units(2_520)
    shelf.buy(2, date(2026, 7, 10), 225, 27)
    assert shelf.sell_oldest_first(180) == _units(4_680)
    shelf.buy(3, date(2026, 7, 20), 210, 33)
    assert shelf.cost_micro == _units(8_955)


def test_by_named_lot():
    """OpenStax, Principles of Accounting vol. 1, 10.3; read: second sale 20 of lot 1, 160 of lot 2: 7,260, 8,895."""
    shelf = Shelf()
    shelf.buy(1, date(2026, 7, 1), 150, 21)
    sold = shelf.take([(1, 120)])
    shelf.buy(2, date(2026, 7, 10), 225, 27)
    sold += shelf.take([(1, 20), (2, 160)])
    shelf.buy(3, date(2026, 7, 20), 210, 33)
    assert sold == _units(7_260)
    assert shelf.cost_micro == _units(8_895)


def test_seven_of_two_three_and_five():
    """R package FinCal manual; read: 2 at 2, 3 at 3, 5 at 5, sell 7: 23, stock 15."""
    shelf = Shelf()
    for key, price in ((1, 2), (2, 3), (3, 5)):
        shelf.buy(key, date(2026, 7, key), price, price)
    assert shelf.sell_oldest_first(7) == _units(23)
    assert shelf.cost_micro == _units(15)


def test_selling_more_than_is_held_is_refused():
    """An ACCA exercise sells 360 with 320 held, and its printed answer goes negative; read."""
    shelf = Shelf()
    shelf.buy(1, date(2026, 7, 1), 320, 10)
    suggestion = suggest_oldest_first(shelf.on_hand(), 360, "items")
    assert suggestion.takes == ()
    assert "320" in suggestion.problem
    assert "360" in suggestion.problem


# Two lots, A 10 kg at 4.00 to 31 Dec, B 5 kg at 4.60 to 30 Jun;
# computed; first expired first out, WHO good distribution practice.
A, B = 1, 2
POWDER = [
    LotOnHand(A, "A", date(2026, 1, 1), 10_000_000, use_by=date(2026, 12, 31)),
    LotOnHand(B, "B", date(2026, 1, 15), 5_000_000, use_by=date(2026, 6, 30)),
]


def test_the_lot_that_ends_first_goes_first():
    """On 1 Mar use 8 kg: 5 B + 3 A = 35.00."""
    takes = suggest_first_to_expire(POWDER, 8_000_000, date(2026, 3, 1)).takes
    assert takes == ((B, 5_000_000), (A, 3_000_000))
    lots = {A: Amount(10_000_000, 0, _units(40)), B: Amount(5_000_000, 0, _units(23))}
    assert sum(draw(lots[key], quantity).cost_micro for key, quantity in takes) == _units(35)


def test_a_lot_may_not_be_used_after_its_last_day():
    """From 1 Jul B may not be used."""
    assert suggest_first_to_expire(POWDER, 1_000, date(2026, 6, 30)).takes == ((B, 1_000),)
    july = suggest_first_to_expire(POWDER, 1_000, date(2026, 7, 1))
    assert july.takes == ((A, 1_000),)
    assert [lot.key for lot in july.left_out] == [B]


def test_wear_of_a_machine_by_its_uses():
    """OpenStax vol. 1, 11.3; read: 10,000, worth 1,000 at the end, 100,000 uses: 0.09 a use; stop at the end value."""
    assert compute_wear(_units(10_000), _units(1_000), 100_000, 0, 1)[0] == 90_000
    assert compute_wear(_units(10_000), _units(1_000), 100_000, 0, 100_000)[0] == _units(9_000)
    assert compute_wear(_units(10_000), _units(1_000), 100_000, 100_000, 1)[0] == 0


def test_overhead_of_a_job_by_its_labour():
    """OpenStax vol. 2, ch. 4; read: materials 700, labour 66, overhead 2.50 per unit of labour: 165, job 931."""
    piece = PieceInput(key=1, label="job", mass_mg=1, own_metal_micro=_units(700), bench_seconds=66 * 60)
    cast = CastInput(charge_mg=1, charge_micro=_units(700), pieces=(piece,))
    policy = PolicyInput(hourly_rate_micro=_units(60), overhead_per_hour_micro=_units(150))
    cost = compute_cast_cost(cast, policy)
    assert cost.line("bench_piece").total_micro == _units(66)
    assert cost.line("overhead").total_micro == _units(165)
    assert cost.piece_totals_micro == (_units(931),)


def test_joint_cost_by_weight():
    """OpenStax vol. 2, ch. 10; computed: 36,000 over 25 lb and 75 lb by weight is 9,000 and 27,000."""
    pieces = tuple(PieceInput(key=lb, label=f"{lb} lb", mass_mg=lb * 453_592) for lb in (25, 75))
    cast = CastInput(charge_mg=0, charge_micro=0, powder_micro=_units(36_000), pieces=pieces)
    cost = compute_cast_cost(cast, PolicyInput(bases={"powder": "grams"}))
    assert cost.piece_totals_micro == (_units(9_000), _units(27_000))


def test_sixty_two_over_three_castings_in_pennies():
    """62.00 over 12.41, 11.98, 13.05 g, largest remainder: 20.55, 19.84, 21.61; computed."""
    pieces = tuple(PieceInput(key=mg, label=f"{mg} mg", mass_mg=mg) for mg in (12_410, 11_980, 13_050))
    cast = CastInput(charge_mg=0, charge_micro=0, powder_micro=_units(62), pieces=pieces)
    cost = compute_cast_cost(cast, PolicyInput(bases={"powder": "grams"}))
    printed = compute_printed(cost, 10_000)
    assert printed.piece_totals_micro == (20_550_000, 19_840_000, 21_610_000)


def _price(rule, value_pct100):
    return compute_price(_units(50), PriceRule(label="price", rule=rule, value_pct100=value_pct100))


def test_a_margin_is_of_the_price_and_a_markup_is_of_the_cost():
    """Arithmetic: cost 50, margin 60 % is 125, markup 60 % is 80."""
    by_margin, by_markup = _price(Rule.MARGIN, 6_000), _price(Rule.MULTIPLE, 16_000)
    assert (by_margin.asked_micro, by_markup.asked_micro) == (_units(125), _units(80))
    assert compute_left(by_margin, _units(50)).margin_pct100 == 6_000
    assert compute_left(by_markup, _units(50)).markup_pct100 == 6_000


def test_a_margin_of_a_hundred_per_cent_or_more_is_refused():
    """Arithmetic: nothing sells at a margin of 100 %."""
    for margin_pct100 in (10_000, 12_000):
        refused = _price(Rule.MARGIN, margin_pct100)
        assert refused.working is None
        assert "less than 100" in refused.problem
