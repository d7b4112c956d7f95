"""The cost rules of a day, and what metal costs today."""

from collections.abc import Sequence
from datetime import date

from django.db.models import OuterRef, Subquery

from costing.core.inputs import PolicyInput
from costing.core.price import PriceRule, Rounding, Rule
from costing.models import MetalPrice, Policy
from studio.kit.units import PCT100_PER_PERCENT
from studio.kit.working import Setting, origin_of

BASIS_FIELDS = {
    "lost_metal": "loss_basis",
    "reclaim_write_down": "loss_basis",
    "powder": "powder_basis",
    "pattern": "pattern_basis",
    "energy": "energy_basis",
    "wear": "wear_basis",
    "consumables": "consumables_basis",
    "other_stock": "consumables_basis",
    "bench_cast": "time_basis",
    "overhead": "time_basis",
}


def policy_on(day: date, policies: Sequence[Policy]) -> Policy:
    """The cost rules of a day, `policies` being newest first: before the oldest ones, those; with none, plain defaults.

    The defaults are not saved.
    """
    for policy in policies:
        if policy.from_day <= day:
            return policy
    return policies[-1] if policies else Policy(from_day=day)


def all_policies() -> list[Policy]:
    return list(Policy.objects.order_by("-from_day"))


def policy_input(policy: Policy) -> PolicyInput:
    plain = Policy()
    return PolicyInput(
        normal_loss_pct100=policy.normal_loss_pct100,
        bases={line: getattr(policy, name) for line, name in BASIS_FIELDS.items()},
        starting_bases=frozenset(
            line for line, name in BASIS_FIELDS.items() if getattr(policy, name) == getattr(plain, name)
        ),
        hourly_rate_micro=policy.hourly_rate_micro,
        overhead_per_hour_micro=policy.overhead_per_hour_micro,
        consumables_per_cast_micro=policy.consumables_per_cast_micro,
        consumables_per_piece_micro=policy.consumables_per_piece_micro,
        reclaim_resale_micro_per_kg=policy.reclaim_resale_micro_per_kg,
    )


def price_rules(policy: Policy) -> tuple[PriceRule, ...]:
    """How a policy prices a piece: to a shop, and to whoever wears it."""
    return (
        make_rule(policy, "Wholesale", policy.wholesale_method, policy.wholesale_hundredths),
        make_rule(policy, "Retail", policy.retail_method, policy.retail_hundredths),
    )


def make_rule(policy: Policy, label: str, method: str, hundredths: int, fees_pct100: int = 0) -> PriceRule:
    """A rule with the tax and the rounding of a policy; `hundredths` as the policy keeps them."""
    rule = Rule(method)
    value = hundredths if rule is Rule.MARGIN else hundredths * PCT100_PER_PERCENT
    return PriceRule(
        label=label,
        rule=rule,
        value_pct100=Setting(value, origin_of(hundredths, "typed here")),
        fees_pct100=fees_pct100,
        step_micro=policy.price_step_micro,
        rounding=Rounding(policy.price_rounding),
        tax_pct100=policy.tax_pct100,
    )


def latest_metal_prices() -> dict[int, MetalPrice]:
    """The newest price of each alloy, by alloy id."""
    newest = MetalPrice.objects.filter(alloy=OuterRef("alloy")).order_by("-day")
    prices = MetalPrice.objects.filter(pk=Subquery(newest.values("pk")[:1])).select_related("alloy")
    return {price.alloy_id: price for price in prices}
