"""All that a price follows from, read once: rules, channels, metal of today, failures, and how the studio looks at it.

The number of queries does not depend on how many things are priced by it.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from costing.core import inputs
from costing.core.channel import Fees
from costing.core.lines import compute_value_at_rate
from costing.core.metal_price import AlloyPrice, say_age
from costing.core.others import Terms
from costing.core.price import MetalAt, PriceRule, Rounding, Rule
from costing.core.pricing import PricedBy
from costing.core.wanted import NO_FAILURES, CostParts, Failures
from costing.core.what_if import Basis
from costing.models import CastingTerms, Channel, FinePrice, MetalPrice, NamedRule, Policy, PricePractice
from inventory.models import Alloy, Cast, Piece, Studio
from inventory.queries.setup import SetupStep, in_use, register_setup_steps
from inventory.queries.studio import current_studio
from studio.kit.models import only_one
from studio.kit.printing import SPACE, print_date, print_exact_money
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import PCT100_PER_PERCENT
from studio.kit.working import Setting, origin_of

from .costed import CostedCast
from .findings import moving_micro
from .metal_price import alloy_prices, fine_prices, metal_prices
from .policy import all_policies, policy_on, price_rules

METAL_LINES = (inputs.OWN_METAL, inputs.LOST_METAL)
TIME_LINES = (inputs.BENCH_CAST, inputs.BENCH_PIECE)
OWN_TABLE = "Own table"


@dataclass(frozen=True)
class PriceBook:
    """What prices are reached by on a day. `ways` are the channels in use, the usual one first."""

    today: date
    policy: Policy
    practice: PricePractice
    metals: dict[int, AlloyPrice]
    ways: tuple[PricedBy, ...]
    floor: PriceRule

    @property
    def counts_failures(self) -> bool:
        """Whether any price here counts castings that fail."""
        return self.floor.counts_failures or any(way.rule.counts_failures for way in self.ways)

    @cached_property
    def failures(self) -> Failures:
        """Of the studio's own record; none where no price counts them, so that nobody looks for them."""
        return read_failures(self.today, self.practice.failed_days) if self.counts_failures else NO_FAILURES

    @property
    def usual(self) -> PricedBy:
        return self.ways[0]

    def say_old(self, price: AlloyPrice | None, alloy: Alloy) -> str:
        """That the price of a metal is older than the studio's limit; "" while it is not."""
        return (
            ""
            if price is None
            else say_age(price.metal or str(alloy), price.day, self.today, self.practice.old_price_days)
        )


def read_price_book(
    alloys: Collection[Alloy], studio: Studio | None = None, policies: Sequence[Policy] | None = None
) -> PriceBook:
    """What prices of things of these alloys follow from; `policies` are all cost rules, if they were read already."""
    today, practice, studio = timezone.localdate(), price_practice(), studio or current_studio()
    policy = policy_on(today, all_policies() if policies is None else policies)
    unit = studio.penny_micro
    channels = list(in_use(Channel).select_related("rule"))
    usual = [one for one in channels if one.pk == practice.usual_channel_id]
    ways = [way_of(one, policy, unit) for one in usual + [one for one in channels if one not in usual]]
    if not usual:
        ways.insert(
            0, PricedBy(Fees(label=OWN_TABLE, tax_pct100=policy.tax_pct100, unit_micro=unit), _retail(policy))
        )
    return PriceBook(
        today=today,
        policy=policy,
        practice=practice,
        metals=alloy_prices(alloys),
        ways=tuple(ways),
        floor=core_rule(practice.floor_rule) if practice.floor_rule else COST_OF_TODAY,
    )


COST_OF_TODAY = PriceRule(
    label="what it costs today", rule=Rule.MULTIPLE, value_pct100=10_000, metal=MetalAt.TODAY
)
"""The floor of a studio that has chosen none: nothing is lost on it."""


def price_practice() -> PricePractice:
    """How the studio looks at its prices; plain defaults, not saved, while it never said."""
    practice = only_one(PricePractice.objects.select_related("floor_rule", "usual_channel"))
    return practice or PricePractice(pk=1)


def way_of(channel: Channel, policy: Policy, unit_micro: int) -> PricedBy:
    """A channel as prices are reached through it; without a rule of its own by the retail rule of the cost rules."""
    fees = Fees(
        label=channel.name,
        commission_pct100=channel.commission_pct100,
        card_pct100=channel.card_pct100,
        card_micro=channel.card_micro,
        day_micro=channel.day_micro,
        sold_a_day=channel.sold_a_day,
        shipping_micro=channel.shipping_micro,
        tax=channel.tax,
        tax_pct100=policy.tax_pct100,
        unit_micro=unit_micro,
    )
    return PricedBy(fees, core_rule(channel.rule) if channel.rule else _retail(policy), channel.pk)


def _retail(policy: Policy) -> PriceRule:
    _, retail = price_rules(policy)
    return retail.with_metal(MetalAt.HIGHER)


def core_rule(named: NamedRule) -> PriceRule:
    rule = Rule(named.method)
    value = named.value_hundredths
    return PriceRule(
        label=named.name,
        rule=rule,
        value_pct100=Setting(value if rule is Rule.MARGIN else value * PCT100_PER_PERCENT, origin_of(value)),
        step_micro=named.step_micro,
        rounding=Rounding(named.rounding),
        time_pct100=named.time_hundredths * PCT100_PER_PERCENT,
        added_micro=named.added_micro,
        least_per_hour_micro=named.least_per_hour_micro,
        metal=MetalAt(named.metal),
        counts_failures=named.counts_failures,
    )


def core_terms(terms: CastingTerms) -> Terms:
    return Terms(
        label=terms.name,
        gram_micro_per_kg=terms.gram_micro_per_kg,
        flask_micro=terms.flask_micro,
        mould_micro=terms.mould_micro,
        metal_pct100=terms.metal_pct100,
    )


def casting_terms() -> QuerySet[CastingTerms]:
    return in_use(CastingTerms)


def read_failures(today: date, days: int) -> Failures:
    """Casts that failed, and castings put back, of the casts closed that were poured in so many days. Two queries."""
    casts = Cast.objects.filter(
        closed_on__isnull=False, poured=True, day__gt=today - timedelta(days=days), day__lte=today
    )
    counted = casts.aggregate(poured=Count("pk"), failed=Count("pk", filter=Q(outcome=Cast.Outcome.FAILED)))
    pieces = Piece.objects.filter(void=False, cast__in=casts.filter(outcome=Cast.Outcome.GOOD))
    kept = pieces.aggregate(castings=Count("pk"), put_back=Count("pk", filter=Q(state=Piece.State.MELTED)))
    return Failures(**counted, **kept)


def parts_of(costed: CostedCast, place: int, price: AlloyPrice | None) -> CostParts:
    """The cost of a piece of a cast in the parts that rules tell apart; a customer's metal has no price here."""
    cost, cast = costed.cost, costed.inputs
    of_line = {line.key: line.piece_micro[place] for line in cost.lines}
    metal_micro = sum(of_line.get(key, 0) for key in METAL_LINES)
    time_micro = sum(of_line.get(key, 0) for key in TIME_LINES)
    overhead_micro = of_line.get(inputs.OVERHEAD, 0)
    today_micro = None
    if price is not None and not cast.customer_metal:
        today_micro = compute_value_at_rate(metal_mg_of(costed, place), price.micro_per_kg)
        metal_micro += moving_micro(costed.findings_of(place), price)
    return CostParts(
        metal_micro=metal_micro,
        today_micro=today_micro,
        other_micro=sum(of_line.values()) - metal_micro - time_micro - overhead_micro,
        time_micro=time_micro,
        overhead_micro=overhead_micro,
        bench_seconds=sum(seconds_of(costed, place)),
    )


_NOT_SHARED = {*METAL_LINES, *TIME_LINES, inputs.OVERHEAD, inputs.PATTERN, inputs.WRITE_DOWN}


def basis_of(costed: CostedCast, place: int, price: AlloyPrice | None, failed_pct100: int = 0) -> Basis:
    """A piece as it was made, by the rules of its day, for what-ifs and prices."""
    cast_seconds, own_seconds = seconds_of(costed, place)
    shared = (line for line in costed.cost.lines if line.key not in _NOT_SHARED)
    return Basis(
        parts=parts_of(costed, place, price),
        metal_mg=metal_mg_of(costed, place),
        price=None if costed.inputs.customer_metal else price,
        shared_micro=sum(
            line.piece_micro[place] - (line.cost.own_micro[place] if line.cost.own_micro else 0)
            for line in shared
        ),
        pieces=len(costed.inputs.good_places),
        cast_seconds=cast_seconds,
        own_seconds=own_seconds,
        hourly_micro=costed.policy.hourly_rate_micro,
        overhead_micro=costed.policy.overhead_per_hour_micro,
        failed_pct100=failed_pct100,
    )


def metal_mg_of(costed: CostedCast, place: int) -> int:
    """What is bought again for a piece: its own metal, that in its findings, and its share of the normal loss."""
    return costed.piece_mg[place] + costed.findings_of(place).metal_mg + costed.cost.piece_lost_mg[place]


def seconds_of(costed: CostedCast, place: int) -> tuple[int, int]:
    """Time at the bench: its share of that on the cast, shared as its cost is, and its own."""
    line, own = costed.cost.line(inputs.BENCH_CAST), costed.inputs.pieces[place].bench_seconds
    if line is None or place not in line.places:
        return 0, own
    shares = allocate_largest_remainder(costed.inputs.bench_seconds, line.weights)
    return shares[line.places.index(place)], own


@register_setup_steps
def price_steps() -> list[SetupStep]:
    """The lines of the set-up page about prices. A studio can cast without any."""
    lines: Sequence[tuple[str, str, str, str]] = (
        (
            "Pure metal prices",
            _say_fine(),
            "costing:fine-price-list",
            "They tell what an alloy costs to buy again.",
        ),
        (
            "Metal prices",
            _say_own(),
            "costing:price-list",
            "They tell what a piece would cost if its metal were bought today.",
        ),
        (
            "Price rules",
            _say_names(NamedRule),
            "costing:rule-list",
            "Wholesale and retail are in the cost rules.",
        ),
        (
            "Channels",
            _say_names(Channel),
            "costing:channel-list",
            "Whoever sells keeps something of the price.",
        ),
        (
            "Casting for others",
            _say_names(CastingTerms),
            "costing:terms-list",
            "They price a customer's cast.",
        ),
    )
    return [
        SetupStep(title, state or f"None yet. {why}", bool(state), address, is_needed=False)
        for title, state, address, why in lines
    ]


def _say_fine() -> str:
    price = fine_prices().first()
    return price and _say_price(f"pure {price.metal}", price) or ""


def _say_own() -> str:
    price = metal_prices().first()
    return price and _say_price(str(price.alloy), price) or ""


def _say_price(name: str, price: FinePrice | MetalPrice) -> str:
    told = f"{print_exact_money(price.price_micro)} per{SPACE}{price.per_unit}"
    return f"Newest: {name}, {told} on {print_date(price.day)}."


def _say_names(model: type[NamedRule] | type[Channel] | type[CastingTerms]) -> str:
    names = [str(one) for one in in_use(model)[:4]]
    return ", ".join(names[:3]) + (" and more" if len(names) > 3 else "") + ("." if names else "")
