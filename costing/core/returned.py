"""What good pieces cost by each of three policies for the sprue that comes back, and a process account.

The book returns sprue at what it cost. The other two are what other studios do: credit it at what it would sell for,
and set what is lost beyond normal apart. Masses are milligrams, money millionths of the currency.
"""

from dataclasses import dataclass
from fractions import Fraction

from costing.core.lines import (
    PROCESS_SOURCE,
    compute_abnormal_value,
    compute_allowed_loss,
    compute_value_at_rate,
)
from studio.kit.printing import SPACE, print_mass, print_money, print_percent
from studio.kit.units import MG_PER_KG, divide_half_up, round_half_up
from studio.kit.working import Given, Step, Working, make_working


@dataclass(frozen=True, slots=True)
class Melts:
    """Casts taken together: what was issued to them and at what cost, and what came of it."""

    issued_mg: int
    issued_micro: int
    back_mg: int
    pieces_mg: int

    @property
    def lost_mg(self) -> int:
        return self.issued_mg - self.back_mg - self.pieces_mg


@dataclass(frozen=True, slots=True)
class Returned:
    """One policy: what the sprue is credited with, what the pieces carry, and what is abnormal and on none."""

    name: str
    back_micro: int
    pieces_micro: int
    abnormal_micro: int
    working: Working

    def per_g_micro(self, pieces_mg: int) -> int:
        return divide_half_up(self.pieces_micro * 1000, pieces_mg)


def compute_at_issue_cost(melts: Melts) -> Returned:
    """Sprue goes back at what it cost; the pieces carry the rest, lost metal and all."""
    back_micro = divide_half_up(melts.issued_micro * melts.back_mg, melts.issued_mg)
    issued, back = print_money(melts.issued_micro, 4), print_money(back_micro, 4)
    step = Step(
        f"credited: {issued} × {print_mass(melts.back_mg)} ÷ {print_mass(melts.issued_mg)}",
        back,
    )
    return _policy("Sprue at what it cost, as the book has it", melts, back_micro, step)


def compute_at_resale(melts: Melts, micro_per_kg: int, normal_pct100: int | None = None) -> Returned:
    """Sprue is credited at what it would sell for; with `normal_pct100` a loss beyond it is set apart."""
    back_micro = compute_value_at_rate(melts.back_mg, micro_per_kg)
    step = Step(
        f"credited: {print_mass(melts.back_mg)} × {print_money(micro_per_kg, 2)} ÷ 1,000{SPACE}g",
        print_money(back_micro, 4),
    )
    name = "Sprue at what it would sell for"
    return _policy(
        name if normal_pct100 is None else f"{name}, with normal loss", melts, back_micro, step, normal_pct100
    )


def _policy(
    name: str, melts: Melts, back_micro: int, credited: Step, normal_pct100: int | None = None
) -> Returned:
    net_micro = melts.issued_micro - back_micro
    givens = [
        Given("issued", f"{print_mass(melts.issued_mg)}, {print_money(melts.issued_micro, 4)}", "charged"),
        Given("back", print_mass(melts.back_mg), "weighed"),
        Given("pieces", print_mass(melts.pieces_mg), "weighed"),
        Given("lost", print_mass(melts.lost_mg), "weighed"),
    ]
    net = print_money(net_micro, 4)
    steps = [
        credited,
        Step(f"left: {print_money(melts.issued_micro, 4)} − {print_money(back_micro, 4)}", net),
    ]
    abnormal_micro = 0
    if normal_pct100 is not None:
        allowed_mg = compute_allowed_loss(melts.issued_mg, normal_pct100)
        abnormal_mg = max(melts.lost_mg - allowed_mg, 0)
        abnormal_micro = compute_abnormal_value(net_micro, melts.pieces_mg, abnormal_mg)
        givens.append(Given("normal loss", print_percent(normal_pct100), "your cost rules"))
        steps += [
            Step(
                f"beyond normal: {print_mass(melts.lost_mg)} − {print_mass(allowed_mg)}",
                print_mass(abnormal_mg),
            ),
            Step(
                f"abnormal: {net} × {print_mass(abnormal_mg)} ÷ "
                f"({print_mass(melts.pieces_mg)} + {print_mass(abnormal_mg)})",
                print_money(abnormal_micro, 4),
            ),
        ]
    pieces_micro = net_micro - abnormal_micro
    steps.append(Step("on the pieces: what is left, less what is abnormal", print_money(pieces_micro, 4)))
    working = make_working(
        name,
        "what was issued, less what the sprue is credited with, is what the pieces carry",
        *givens,
        *steps,
        source="IAS 2, para. 14 and 16",
    )
    return Returned(name, back_micro, pieces_micro, abnormal_micro, working)


@dataclass(frozen=True, slots=True)
class ProcessAccount:
    """What one kilogram costs by a process account, and what is abnormal: a loss above 0, a gain below it."""

    per_kg_micro: Fraction
    expected_mg: int
    abnormal_mg: int
    working: Working

    @property
    def abnormal_micro(self) -> int:
        return round_half_up(self.per_kg_micro * self.abnormal_mg / MG_PER_KG)


def compute_process_account(
    issued_mg: int, issued_micro: int, out_mg: int, normal_pct100: int, scrap_micro_per_kg: int = 0
) -> ProcessAccount:
    """The price of output as if just the normal loss had come about; output above that is an abnormal gain.

    A gain is booked at that price beside the output and makes no kilogram cheaper. Raises ValueError where a
    normal loss leaves nothing.
    """
    normal_mg = compute_allowed_loss(issued_mg, normal_pct100)
    expected_mg = issued_mg - normal_mg
    if expected_mg <= 0:
        raise ValueError("a normal loss of all leaves nothing to carry the cost")
    scrap_micro = compute_value_at_rate(normal_mg, scrap_micro_per_kg)
    per_kg = Fraction((issued_micro - scrap_micro) * MG_PER_KG, expected_mg)
    abnormal_mg = expected_mg - out_mg
    word = "abnormal loss" if abnormal_mg > 0 else "abnormal gain" if abnormal_mg < 0 else "nothing abnormal"
    price = print_money(round_half_up(per_kg), 4)
    worth_micro = round_half_up(per_kg * abs(abnormal_mg) / MG_PER_KG)
    working = make_working(
        "Normal and abnormal, by a process account",
        "the cost, less what the normal loss is worth, divided by what is left after the normal loss; what came out "
        "above or below that is abnormal at the same price",
        Given("charged", f"{print_mass(issued_mg)}, {print_money(issued_micro, 4)}", "the book"),
        Given("came out", print_mass(out_mg), "weighed"),
        Given("normal loss", print_percent(normal_pct100), "your cost rules"),
        Step(f"normal: {print_mass(issued_mg)} × {print_percent(normal_pct100)}", print_mass(normal_mg)),
        Step(f"expected: {print_mass(issued_mg)} − {print_mass(normal_mg)}", print_mass(expected_mg)),
        Step(
            f"a kilogram: ({print_money(issued_micro, 4)} − {print_money(scrap_micro, 4)}) ÷ "
            f"{print_mass(expected_mg)} × 1,000{SPACE}g",
            price,
        ),
        Step(f"{word}: {print_mass(abs(abnormal_mg))}", print_money(worth_micro, 4)),
        source=PROCESS_SOURCE,
    )
    return ProcessAccount(per_kg, expected_mg, abnormal_mg, working)
