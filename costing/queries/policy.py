"""The cost rules and the metal prices: those of a day, the lists of them, and what they apply to."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from costing.core.inputs import PolicyInput
from costing.core.price import PriceRule, Rounding, Rule
from costing.models import Policy
from inventory.models import Cast
from inventory.queries.setup import SetupStep, register_setup_steps
from studio.kit.models import in_order
from studio.kit.printing import print_date
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


def tax_of_today() -> int:
    """The tax on prices by the rules of today, in hundredths of a per cent."""
    return policy_on(timezone.localdate(), all_policies()).tax_pct100


def all_policies() -> list[Policy]:
    return in_order(Policy.objects.all(), "from_day", newest_first=True)


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


def policies_with_end() -> QuerySet[Policy]:
    """Cost rules with `next_day`: the day from which newer ones hold, None for the newest."""
    newer = Policy.objects.filter(from_day__gt=OuterRef("from_day")).order_by("from_day")
    return Policy.objects.annotate(next_day=Subquery(newer.values("from_day")[:1])).order_by("-from_day")


def newest_policy() -> Policy | None:
    return Policy.objects.order_by("-from_day").first()


def oldest_rules_day() -> date | None:
    """The first day of the oldest rules, which cost what was cast before them too."""
    return Policy.objects.order_by("from_day").values_list("from_day", flat=True).first()


def count_casts_under(policy: Policy) -> tuple[int, date | None]:
    """How many poured casts these rules cost, and the last day on which they hold.

    The oldest rules cost what was cast before them too.
    """
    days = list(Policy.objects.order_by("from_day").values_list("from_day", flat=True))
    casts = Cast.objects.filter(poured=True)
    later = [day for day in days if day > policy.from_day]
    if any(day < policy.from_day for day in days):
        casts = casts.filter(day__gte=policy.from_day)
    if later:
        casts = casts.filter(day__lt=later[0])
    return casts.count(), later[0] - timedelta(days=1) if later else None


@register_setup_steps
def cost_steps() -> list[SetupStep]:
    """The lines of the set-up page about costs. A studio can cast without either."""
    policies = all_policies()
    policy = policy_on(timezone.localdate(), policies) if policies else None
    rules = (
        f"In force from {print_date(policy.from_day)}."
        if policy
        else "None yet. Until then an hour at the bench costs nothing."
    )
    if policy and policy.from_day > timezone.localdate():
        rules = (
            f"From {print_date(policy.from_day)}. They are your oldest, so they count before that day too."
        )
    return [
        SetupStep(
            "Cost rules",
            rules,
            policy is not None,
            "costing:policy-list",
            "Say what your hour and a kilowatt-hour cost",
            is_needed=False,
            form=("costing:policy-new",),
        )
    ]
