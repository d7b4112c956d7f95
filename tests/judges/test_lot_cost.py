"""beancount as an independent judge: it books the same lots and issues, and both agree on every cost.

beancount keeps a cost for each unit and we carry totals, so prices here are whole millionths a milligram,
where both are exact.
"""

from datetime import date, timedelta
from decimal import Decimal
from random import Random

from beancount.core import inventory as bean_inventory
from beancount.core.amount import Amount as BeanAmount
from beancount.core.position import Cost

from inventory.core.ledger import Amount, draw


def test_lot_costs_agree_with_beancount_over_a_random_history():
    rng = Random(404)
    judge = bean_inventory.Inventory()
    ours: dict[str, Amount] = {}
    costs: dict[str, Cost] = {}
    for number in range(600):
        if number % 5 == 0 or not any(amount.quantity for amount in ours.values()):
            label, quantity, each = f"lot-{number}", rng.randrange(1, 90_000), rng.randrange(1, 3_000)
            cost = Cost(Decimal(each), "GBP", date(2026, 1, 1) + timedelta(days=number), label)
            judge.add_amount(BeanAmount(Decimal(quantity), "SILVER"), cost)
            ours[label], costs[label] = Amount(quantity, 0, quantity * each), cost
            continue
        label = rng.choice([label for label, amount in ours.items() if amount.quantity])
        taken = draw(ours[label], rng.randrange(1, ours[label].quantity + 1))
        ours[label] -= taken
        judge.add_amount(BeanAmount(Decimal(-taken.quantity), "SILVER"), costs[label])
        assert taken.cost_micro == taken.quantity * costs[label].number
    left = {position.cost.label: position for position in judge}
    for label, amount in ours.items():
        judged = left.get(label)
        assert amount.quantity == (judged.units.number if judged else 0)
        assert amount.cost_micro == (judged.units.number * judged.cost.number if judged else 0)
