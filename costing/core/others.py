"""What casting for others costs them: by the gram cast, the flask and the mould, and their metal.

Masses are milligrams, money millionths of the currency.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.printing import print_exact_money, print_mass, print_money, print_percent
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import MG_PER_KG, PCT100_WHOLE, round_half_up
from studio.kit.working import Given, Step, Working, make_working

from .lines import compute_value_at_rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What the studio asks for casting; `metal_pct100` on top of metal that they buy from it."""

    label: str
    gram_micro_per_kg: int = 0
    flask_micro: int = 0
    mould_micro: int = 0
    metal_pct100: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDone:
    """What was cast for somebody. `metal_micro_per_kg` is what the metal costs to buy again, None for their own."""

    cast_mg: int
    flasks: int = 1
    moulds: int = 0
    metal_micro_per_kg: int | None = None


def compute_work_price(done: WorkDone, terms: Terms, unit_micro: int = 10_000) -> tuple[int, Working]:
    """What it costs them before tax; each part is rounded to the smallest unit that is paid, so that they add up."""
    parts = [(words, units * unit_micro) for words, units in _round_parts(done, terms, unit_micro)]
    total_micro = sum(amount for _, amount in parts)
    own = "their own" if done.metal_micro_per_kg is None else "bought from the studio"
    working = make_working(
        f"What the work costs them: {terms.label}",
        "grams cast, flasks and moulds, each times its price, and the metal that they buy",
        Given("grams cast", print_mass(done.cast_mg), "the cast"),
        Given("flasks", str(done.flasks), "the cast"),
        Given("moulds", str(done.moulds), "typed here"),
        Given("metal", own, "the cast" if done.metal_micro_per_kg is None else "typed here"),
        *(Step(words, print_money(amount)) for words, amount in parts),
        result=print_money(total_micro),
        source="your own setting",
    )
    return total_micro, working


def compute_piece_work(
    masses_mg: Sequence[int], place: int, terms: Terms, unit_micro: int = 10_000
) -> tuple[int, Working]:
    """What one casting of a flask costs whose metal it is, before tax: its share by grams of each part of the whole.

    `masses_mg` are all castings of the flask as cast, so that their prices add up to that of the work. Their own metal
    costs nothing.
    """
    whole = WorkDone(cast_mg=sum(masses_mg))
    parts = [
        (words, allocate_largest_remainder(units, masses_mg)[place] * unit_micro)
        for words, units in _round_parts(whole, terms, unit_micro)
    ]
    total_micro = sum(amount for _, amount in parts)
    own, of = print_mass(masses_mg[place]), print_mass(whole.cast_mg)
    working = make_working(
        f"What casting it costs them: {terms.label}",
        "its share by grams of the grams cast and of the flask, each times its price; the metal is their own",
        Given("grams of this casting", own, "the cast"),
        Given("grams cast in the flask", of, "the cast"),
        Given("flasks", "1", "the cast"),
        *(Step(f"{words}, × {own} ÷ {of}", print_money(amount)) for words, amount in parts),
        Step("metal: their own", print_money(0)),
        result=print_money(total_micro),
        source="your own setting",
    )
    return total_micro, working


def compute_work_of_one(
    mass_mg: int, whole_mg: int, flasks: int, terms: Terms, unit_micro: int = 10_000
) -> tuple[int, Working]:
    """What casting one piece is offered at, before tax: its grams, and its share by grams of the flasks of an order.

    `whole_mg` are all pieces of the order as cast. Their own metal costs nothing. Rounded once, to what is paid.
    """
    grams = Fraction(mass_mg * terms.gram_micro_per_kg, MG_PER_KG)
    share = Fraction(flasks * terms.flask_micro * mass_mg, whole_mg)
    total_micro = round_half_up((grams + share) / unit_micro) * unit_micro
    each, whole = print_mass(mass_mg), print_mass(whole_mg)
    gram = print_exact_money(round_half_up(Fraction(terms.gram_micro_per_kg, 1_000)))
    steps = [Step(f"casting: {each} × {gram}", print_money(round_half_up(grams), 4))]
    if terms.flask_micro:
        flask = f"flasks: {flasks} × {print_money(terms.flask_micro)} × {each} ÷ {whole}"
        steps.append(Step(flask, print_money(round_half_up(share), 4)))
    working = make_working(
        f"What casting one costs them: {terms.label}",
        "its grams times the price of a gram, and its share by grams of the flasks; the metal is their own",
        Given("grams as cast", each, "the design"),
        Given("grams of the whole order", whole, "the quote"),
        *steps,
        Step("metal: their own", print_money(0)),
        result=print_money(total_micro),
        source="your own setting",
    )
    return total_micro, working


def _round_parts(done: WorkDone, terms: Terms, unit_micro: int) -> list[tuple[str, int]]:
    """Each part in whole units of what is paid."""
    return [(words, round_half_up(exact / unit_micro)) for words, exact in _list_parts(done, terms)]


def _list_parts(done: WorkDone, terms: Terms) -> Iterator[tuple[str, Fraction]]:
    mass = print_mass(done.cast_mg)
    gram = print_exact_money(round_half_up(Fraction(terms.gram_micro_per_kg, 1_000)))
    yield f"casting: {mass} × {gram}", Fraction(done.cast_mg * terms.gram_micro_per_kg, MG_PER_KG)
    if terms.flask_micro:
        flasks = done.flasks * terms.flask_micro
        yield f"flasks: {done.flasks} × {print_money(terms.flask_micro)}", Fraction(flasks)
    if terms.mould_micro and done.moulds:
        moulds = done.moulds * terms.mould_micro
        yield f"moulds: {done.moulds} × {print_money(terms.mould_micro)}", Fraction(moulds)
    if done.metal_micro_per_kg is not None:
        metal_micro = compute_value_at_rate(done.cast_mg, done.metal_micro_per_kg)
        more = f" × (100 % + {print_percent(terms.metal_pct100)})" if terms.metal_pct100 else ""
        exact = Fraction(metal_micro * (PCT100_WHOLE + terms.metal_pct100), PCT100_WHOLE)
        yield f"metal to buy again: {print_money(metal_micro)}{more}", exact
