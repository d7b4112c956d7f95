"""Reads of the set-up of costing: the cost rules and the metal prices, and what they apply to."""

from datetime import date, timedelta

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from costing.models import MetalPrice, Policy
from inventory.models import Cast
from inventory.queries.setup import SetupStep, register_setup_steps
from studio.kit.printing import SPACE, print_date, print_exact_money

from .policy import all_policies, policy_on


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


def metal_prices() -> QuerySet[MetalPrice]:
    return MetalPrice.objects.select_related("alloy").order_by("-day", "alloy__name")


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
    price = metal_prices().first()
    prices = (
        f"Newest: {price.alloy}, {print_exact_money(price.price_micro)} per{SPACE}{price.per_unit}"
        f" on {print_date(price.day)}."
        if price
        else "None yet. They tell what a piece would cost if its metal were bought today."
    )
    return [
        SetupStep("Cost rules", rules, policy is not None, "costing:policy-list", is_needed=False),
        SetupStep("Metal prices", prices, price is not None, "costing:price-list", is_needed=False),
    ]
