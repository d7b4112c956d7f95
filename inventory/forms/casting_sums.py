"""What a half-written form comes to already: the charge so far, and where its grams are.

It reads what can be read and passes over the rest, so that a page can answer while a person types.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from inventory.core.alloying import Portion
from inventory.core.charge import ChargeSums, compute_charge
from inventory.core.fineness import know
from inventory.core.ledger import Amount, draw, rate_of
from inventory.core.weighing import CrucibleBalance, Verdict, compute_balance, compute_weighing_uncertainty
from inventory.models import Alloy, Lot, Studio
from inventory.queries.casting_page import portion_known
from inventory.queries.ledger import name_lot
from inventory.queries.studio import charge_rules
from studio.kit.chart_pen import Picture
from studio.kit.charts import gram_bar
from studio.kit.printing import print_mass, print_percent

from .casting_fields import MetalChoice
from .casting_rows import share_choice


@dataclass(frozen=True, slots=True)
class Weighed:
    """What was weighed after the pour so far, in milligrams, and how often the scale was read."""

    pieces_mg: int = 0
    back_mg: int = 0
    filings_mg: int = 0
    readings: int = 0

    @property
    def out_mg(self) -> int:
        return self.pieces_mg + self.back_mg + self.filings_mg


@dataclass(frozen=True)
class LiveSums:
    """A charge, what it comes to, and its balance once something was weighed after the pour."""

    charge: ChargeSums | None
    balance: CrucibleBalance | None = None
    problems: list[str] = field(default_factory=list)

    @property
    def picture(self) -> Picture | None:
        if self.balance is None:
            return None
        left_mg = self.balance.lost_mg
        # What is missing may still be on the bench: it is called lost only when the cast is closed.
        return gram_bar(
            self.balance.pieces_mg,
            self.balance.back_mg,
            self.balance.filings_mg,
            min(left_mg, 0),
            max(left_mg, 0),
            title="Where the metal is",
        )

    @property
    def sentence(self) -> str:
        """ "Charge 180.00 g; out 178.65 g; 1.35 g (0.75 %) not accounted for." """
        if self.charge is None:
            return "No metal is written down yet."
        charged = f"Charge {print_mass(self.charge.mass_mg)}"
        if self.balance is None:
            return f"{charged}."
        out_mg = self.balance.charge_mg - self.balance.lost_mg
        said = f"{charged}; out {print_mass(out_mg)}; "
        if self.balance.lost_mg < 0:
            return said + f"{print_mass(-self.balance.lost_mg)} more than went in."
        share = print_percent(self.balance.lost_of_charge_pct100)
        return said + f"{print_mass(self.balance.lost_mg)} ({share}) not accounted for."

    @property
    def verdict(self) -> str:
        if self.balance is None:
            return ""
        shown = print_mass(self.balance.tolerance_mg)
        return {
            Verdict.BALANCED: f"That is within what the scale can show over so many weighings, {shown}.",
            Verdict.LOST: f"That is more than the scale can hide, {shown}: what is not weighed counts as lost.",
            Verdict.MORE_OUT: f"The scale can explain {shown}. Weigh again, or look for metal of another cast.",
        }[self.balance.verdict]

    @property
    def is_wrong(self) -> bool:
        return self.balance is not None and self.balance.verdict is Verdict.MORE_OUT


def add_up(
    alloy: Alloy | None, studio: Studio, portions: list[Portion], problems: list[str], weighed: Weighed
) -> LiveSums:
    """The sums of what could be read so far."""
    if not portions:
        return LiveSums(None, problems=problems)
    charge = compute_charge(portions, charge_rules(alloy.kept_fineness if alloy else 0, studio))
    if not weighed.readings:
        return LiveSums(charge, problems=problems)
    uncertainty = compute_weighing_uncertainty(studio.scale_division_mg, len(portions) + weighed.readings)
    balance = compute_balance(
        charge.mass_mg, weighed.pieces_mg, weighed.back_mg, weighed.filings_mg, uncertainty
    )
    return LiveSums(charge, balance, problems)


def read_portions(rows: Any, metal: str) -> tuple[list[Portion], list[str]]:
    """The portions that can be read, each with the fine metal it would draw, and what is wrong with others."""
    portions: list[Portion] = []
    problems: list[str] = []
    left: dict[int, Amount] = {}
    for choice, mass_mg in _written_portions(rows):
        shares, problem = share_choice(choice, mass_mg)
        problems += [problem] if problem else []
        for lot, share_mg in shares:
            held = left.get(lot.pk, Amount(lot.holder.quantity, lot.holder.fine_ug))
            taken, problem = _draw_softly(lot, held, share_mg)
            problems += [problem] if problem else []
            left[lot.pk] = held - taken if taken.quantity <= held.quantity else Amount()
            portions.append(_as_portion(lot, taken, metal))
    return portions, problems


def lots_written(rows: Any) -> list[Lot]:
    """The lots that the portions which can be read are of."""
    return [choice.lots[0] for choice, _ in _written_portions(rows)]


def _written_portions(rows: Any) -> Iterable[tuple[MetalChoice, int]]:
    rows.is_valid()
    for form in rows.forms:
        found = getattr(form, "cleaned_data", {})
        choice, mass_mg = found.get("what"), found.get("mass")
        if isinstance(choice, MetalChoice) and mass_mg and not form.is_removed:
            yield choice, mass_mg


def _draw_softly(lot: Lot, held: Amount, mass_mg: int) -> tuple[Amount, str]:
    if mass_mg <= held.quantity:
        return draw(held, mass_mg), ""
    problem = f"{name_lot(lot)} holds {print_mass(held.quantity)} only."
    if not held.quantity:
        return Amount(mass_mg, mass_mg * lot.material.fineness), problem
    return rate_of(held, mass_mg), problem


def _as_portion(lot: Lot, taken: Amount, metal: str) -> Portion:
    alloy = lot.material.alloy
    fine_ug = taken.fine_ug if alloy is not None and (not metal or alloy.metal == metal) else 0
    known = know(taken.quantity, fine_ug, lot.fineness_is_guess, lot.fine_low_ppm, lot.fine_high_ppm)
    return portion_known(lot, known)


def read_weighed(form: Any, rows: Any) -> Weighed:
    """What was weighed after the pour, as far as it can be read."""
    form.is_valid()
    rows.is_valid()
    found = form.cleaned_data
    pieces = [
        row.cleaned_data["mass"]
        for row in rows.forms
        if not row.is_removed and getattr(row, "cleaned_data", {}).get("mass")
    ]
    sorts = {name: found.get(name) or 0 for name in ("back", "failed_mass", "spill", "filings")}
    return Weighed(
        pieces_mg=sum(pieces),
        back_mg=sorts["back"] + sorts["failed_mass"],
        filings_mg=sorts["spill"] + sorts["filings"],
        readings=len(pieces) + sum(1 for mass_mg in sorts.values() if mass_mg),
    )
