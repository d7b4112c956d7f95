"""The lines of a cast's cost before they are shared: what was used, at what cost, and what is set aside first.

A normal loss is part of making the good castings; a loss beyond it is abnormal, costs what good castings
cost, and is set aside. Masses are milligrams, money millionths of the currency.
"""

from fractions import Fraction

from costing.core import inputs
from costing.core.sharing import Cost
from studio.kit.printing import print_mass, print_money, print_percent, print_seconds
from studio.kit.units import MG_PER_KG, PCT100_WHOLE, SECONDS_PER_HOUR, divide_half_up, round_half_up
from studio.kit.working import Given, Source, origin_of

PROCESS_SOURCE = (
    "process costing as in ACCA F2, ch. 9; by-products by IAS 2, para. 14, abnormal loss para. 16"
)


def compute_allowed_loss(charge_mg: int, normal_pct100: int) -> int:
    """The loss that counts as normal for a charge, whether it came about or not."""
    return round_half_up(Fraction(charge_mg * normal_pct100, PCT100_WHOLE))


def compute_normal_loss(charge_mg: int, lost_mg: int, normal_pct100: int) -> tuple[int, int]:
    """Split a loss into (normal_mg, abnormal_mg): normal is at most its share of the charge.

    A loss below zero, which is the scale's error, is all normal. Where less was lost than is normal, the pieces
    carry what was lost: no abnormal gain is booked, and the process account is not cited.
    """
    normal_mg = min(lost_mg, compute_allowed_loss(charge_mg, normal_pct100))
    return normal_mg, lost_mg - normal_mg


def compute_abnormal_value(net_micro: int, good_mg: int, abnormal_mg: int) -> int:
    """What an abnormal loss cost, at the price of a good gram: net x abnormal / (good + abnormal)."""
    if abnormal_mg <= 0:
        return 0
    return divide_half_up(net_micro * abnormal_mg, good_mg + abnormal_mg)


def compute_value_at_rate(mass_mg: int, micro_per_kg: int) -> int:
    """Worth of a mass at a price per kilogram."""
    return divide_half_up(mass_mg * micro_per_kg, MG_PER_KG)


_LESS_THAN_NORMAL = (
    "Less was lost than is normal: the pieces carry what was really lost. A process account would book a gain beside "
    "them; here none is booked."
)


def compute_time_cost(seconds: int, micro_per_hour: int) -> int:
    """Cost of a time at a price per hour."""
    return divide_half_up(seconds * micro_per_hour, SECONDS_PER_HOUR)


def list_costs(cast: inputs.CastInput, policy: inputs.PolicyInput) -> list[Cost]:
    """Every line of the cast, in the order in which they are shown."""
    normal_mg, abnormal_mg = compute_normal_loss(cast.charge_mg, cast.lost_mg, policy.normal_loss_pct100)
    return [
        *_metal_costs(cast, policy, normal_mg, abnormal_mg),
        *_used_costs(cast),
        _consumables(cast, policy),
        Cost(
            inputs.OTHER_STOCK,
            "other stock used on the cast, shared; findings and stones on the piece that has them",
            cast.other_stock_micro,
            tuple(piece.other_stock_micro for piece in cast.pieces),
            givens=lambda: (_money_given("used on the cast", cast.other_stock_micro, "the stock"),),
        ),
        Cost(
            inputs.OUTSIDE,
            "plating, hallmarking, setting or a chain from outside: what each piece carries of the bill",
            own_micro=tuple(piece.outside_micro for piece in cast.pieces),
            givens=lambda: (
                _money_given(
                    "carried by its pieces", sum(piece.outside_micro for piece in cast.pieces), "its bills"
                ),
            ),
        ),
        *_time_costs(cast, policy),
    ]


def _metal_costs(
    cast: inputs.CastInput, policy: inputs.PolicyInput, normal_mg: int, abnormal_mg: int
) -> list[Cost]:
    """Own metal, lost metal, and what returned metal is worth less than it cost."""
    origins = cast.origins
    theirs = ("A customer's metal carries no cost.",) if cast.customer_metal else ()
    own = tuple(piece.own_metal_micro for piece in cast.pieces)
    good_mg = max(cast.good_mg, 0)
    net_micro = sum(own[place] for place in cast.good_places) + cast.lost_micro
    # Pieces of uneven cost per gram could push the value past what was lost; the line must not turn negative.
    abnormal_micro = min(compute_abnormal_value(net_micro, good_mg, abnormal_mg), max(cast.lost_micro, 0))
    allowed_mg = compute_allowed_loss(cast.charge_mg, policy.normal_loss_pct100)
    costs = [
        Cost(
            inputs.OWN_METAL,
            "the metal that is in each piece, at what it cost in the lots it came from",
            own_micro=own,
            givens=lambda: (
                Given("charge", _mass_and_money(cast.charge_mg, cast.charge_micro), origins.charge),
                Given("came back", _mass_and_money(cast.back_mg, cast.back_micro), origins.back),
                Given("lost", _mass_and_money(cast.lost_mg, cast.lost_micro), origins.lost),
            ),
            source=Source.COMMON_PRACTICE,
            notes=theirs,
        ),
        Cost(
            inputs.LOST_METAL,
            "the cost of the metal lost, less its abnormal part, which costs what good metal costs: "
            "(metal in the pieces + lost) × abnormal grams ÷ (good grams + abnormal grams)",
            shared_micro=cast.lost_micro,
            abnormal_micro=max(abnormal_micro, 0),
            abnormal_words=_say_abnormal(net_micro, good_mg, abnormal_mg)
            if abnormal_micro == compute_abnormal_value(net_micro, good_mg, abnormal_mg)
            else "no more than what was lost",
            givens=lambda: (
                Given("lost", _mass_and_money(cast.lost_mg, cast.lost_micro), origins.lost),
                Given(
                    "normal loss, of the charge",
                    print_percent(policy.normal_loss_pct100),
                    origin_of(policy.normal_loss_pct100),
                ),
                Given("normal loss", print_mass(normal_mg), "the lesser of the two"),
                Given("abnormal loss", print_mass(abnormal_mg), "the rest"),
                Given(
                    "metal in the pieces", _mass_and_money(good_mg, net_micro - cast.lost_micro), origins.held
                ),
            ),
            source=PROCESS_SOURCE if abnormal_mg else Source.COMMON_PRACTICE,
            notes=theirs + ((_LESS_THAN_NORMAL,) if cast.lost_mg < allowed_mg else ()),
        ),
    ]
    if policy.reclaim_resale_micro_per_kg is not None:
        costs.append(_write_down(cast, policy.reclaim_resale_micro_per_kg, good_mg, abnormal_mg))
    return costs


def _write_down(cast: inputs.CastInput, resale_micro_per_kg: int, good_mg: int, abnormal_mg: int) -> Cost:
    worth_micro = compute_value_at_rate(cast.back_mg, resale_micro_per_kg)
    # Returned metal is never written up above its cost: IAS 2 takes the lower of the two.
    down_micro = max(cast.back_micro - worth_micro, 0)
    return Cost(
        inputs.WRITE_DOWN,
        "what the returned metal cost, less what it could be sold for; nothing when it could be sold for more",
        shared_micro=down_micro,
        abnormal_micro=compute_abnormal_value(down_micro, good_mg, abnormal_mg),
        abnormal_words=_say_abnormal(down_micro, good_mg, abnormal_mg),
        givens=lambda: (
            Given("came back", _mass_and_money(cast.back_mg, cast.back_micro), cast.origins.back),
            Given("resale value of a kilogram", print_money(resale_micro_per_kg), Source.OWN_SETTING),
            Given("could be sold for", print_money(worth_micro, 4), "mass times resale value"),
        ),
        source="IAS 2, para. 9 and 14",
        notes=("The tin keeps this metal at what it cost; only what the pieces are charged changes.",),
    )


def _say_abnormal(net_micro: int, good_mg: int, abnormal_mg: int) -> str:
    abnormal = print_mass(abnormal_mg)
    return f"{print_money(net_micro, 4)} × {abnormal} ÷ ({print_mass(good_mg)} + {abnormal})"


def _used_costs(cast: inputs.CastInput) -> list[Cost]:
    return [
        Cost(
            inputs.POWDER,
            "the powder this flask took, at what its lots cost",
            cast.powder_micro,
            givens=lambda: (_money_given("powder used", cast.powder_micro, cast.origins.used),),
        ),
        Cost(
            inputs.PATTERN,
            "the wax, filament or resin that burnt out, at what its lots cost",
            cast.pattern_micro,
            givens=lambda: (_money_given("pattern material used", cast.pattern_micro, cast.origins.used),),
        ),
        Cost(
            inputs.ENERGY,
            "this flask's share of the energy of the firing",
            cast.energy_micro,
            givens=lambda: (_money_given("this flask's share", cast.energy_micro, cast.origins.firing),),
        ),
        Cost(
            inputs.WEAR,
            "one use of each tool that the cast wore",
            sum(amount for _, amount in cast.wear),
            givens=lambda: tuple(
                _money_given(label, amount, "price and life") for label, amount in cast.wear
            ),
        ),
    ]


def _consumables(cast: inputs.CastInput, policy: inputs.PolicyInput) -> Cost:
    per_cast, per_piece = policy.consumables_per_cast_micro, policy.consumables_per_piece_micro
    return Cost(
        inputs.CONSUMABLES,
        "what every cast uses, shared, and what every piece uses, by an estimate",
        per_cast,
        tuple(per_piece if piece.is_good and not cast.failed else 0 for piece in cast.pieces),
        givens=lambda: (
            _money_given("for each cast", per_cast, origin_of(per_cast)),
            _money_given("for each piece", per_piece, origin_of(per_piece)),
        ),
    )


def _time_costs(cast: inputs.CastInput, policy: inputs.PolicyInput) -> list[Cost]:
    """Bench time on the cast and on each piece, and overhead on both."""
    rate, overhead = policy.hourly_rate_micro, policy.overhead_per_hour_micro
    hour = _money_given("an hour at the bench", rate, origin_of(rate))
    on_cast = Given("on the cast", print_seconds(cast.bench_seconds), cast.origins.bench)
    pieces_seconds = sum(piece.bench_seconds for piece in cast.pieces)
    on_pieces = Given("on its pieces", print_seconds(pieces_seconds), cast.origins.bench)
    return [
        Cost(
            inputs.BENCH_CAST,
            "the time at the bench for the cast as a whole, times the price of an hour; shared",
            compute_time_cost(cast.bench_seconds, rate),
            givens=lambda: (on_cast, hour),
        ),
        Cost(
            inputs.BENCH_PIECE,
            "the time at the bench for each piece, times the price of an hour",
            own_micro=tuple(compute_time_cost(piece.bench_seconds, rate) for piece in cast.pieces),
            own_words=_say_time(cast, rate),
            givens=lambda: (on_pieces, hour),
        ),
        Cost(
            inputs.OVERHEAD,
            "the overhead of an hour, for all time at the bench",
            compute_time_cost(cast.bench_seconds, overhead),
            tuple(compute_time_cost(piece.bench_seconds, overhead) for piece in cast.pieces),
            own_words=_say_time(cast, overhead),
            givens=lambda: (
                on_cast,
                on_pieces,
                _money_given("overhead of an hour", overhead, origin_of(overhead)),
            ),
        ),
    ]


def _say_time(cast: inputs.CastInput, micro_per_hour: int) -> tuple[str, ...]:
    """Each piece's time as a sum."""
    an_hour = print_money(micro_per_hour, 4)
    return tuple(f"{print_seconds(piece.bench_seconds)} × {an_hour}" for piece in cast.pieces)


def _mass_and_money(mass_mg: int, money_micro: int) -> str:
    return f"{print_mass(mass_mg)} for {print_money(money_micro, 4)}"


def _money_given(label: str, amount_micro: int, origin: str) -> Given:
    return Given(label, print_money(amount_micro, 4), origin)
