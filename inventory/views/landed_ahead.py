"""A look ahead at what the lines of a delivery will have cost, before anything is saved."""

from dataclasses import dataclass

from inventory.core.landed import LandedLine, OnTop, explain_landed_cost
from inventory.forms.buying import DeliveryForm, readable_lines
from inventory.models import Delivery
from inventory.posting.buying import spread_charges
from inventory.posting.refusal import Refused
from inventory.tables.buying import PreviewTable
from studio.kit.rows import RowsFormSet
from studio.kit.working import Working


@dataclass(frozen=True)
class Ahead:
    """`sentence` says why there is nothing to show, or what is not in the figures yet."""

    table: PreviewTable | None = None
    workings: tuple[Working, ...] = ()
    sentence: str = ""


def look_ahead(form: DeliveryForm, rows: RowsFormSet) -> Ahead:
    """The landed cost of every line that can be read so far, by the same sharing as the posting."""
    form.full_clean()
    lines = [line for _, line in readable_lines(rows, None)]
    numbers = [number for number, _ in readable_lines(rows, None)]
    if not lines:
        return Ahead(sentence="Write a material, how much, and its price, and its landed cost stands here.")
    charges = form.charges
    try:
        shares = spread_charges(lines, charges)
    except Refused as refusal:
        return Ahead(sentence=refusal.sentence)
    by_mass = charges.spread_by == Delivery.SpreadBy.MASS
    on_top = OnTop(charges.carriage_micro, charges.duty_micro, charges.tax_micro, by_mass)
    weights = [line.quantity if by_mass else line.price_micro for line in lines]
    landed = [
        LandedLine(
            quantity=line.quantity,
            unit=line.material.unit,
            price_micro=line.price_micro,
            share_micro=share,
            weight=weight,
            weights=sum(weights),
        )
        for line, share, weight in zip(lines, shares, weights, strict=True)
    ]
    records = [
        {"line": number, "material": str(line.material), **_figures(one)}
        for number, line, one in zip(numbers, lines, landed, strict=True)
    ]
    totals = {
        "price": sum(one.price_micro for one in landed),
        "share": sum(one.share_micro for one in landed),
        "landed": sum(one.landed_micro for one in landed),
    }
    workings = tuple(
        explain_landed_cost(one, on_top, f"Line {number}, {line.material}")
        for number, line, one in zip(numbers, lines, landed, strict=True)
    )
    left_out = sum(1 for row in rows.forms if row.has_changed() and not row.is_removed) - len(lines)
    sentence = ""
    if left_out == 1:
        sentence = "One line cannot be read yet and is not counted here."
    elif left_out:
        sentence = f"{left_out} lines cannot be read yet and are not counted here."
    return Ahead(PreviewTable(records, totals=totals, orderable=False), workings, sentence)


def _figures(line: LandedLine) -> dict[str, object]:
    names = ("quantity", "unit", "price_micro", "share_micro", "landed_micro", "rate_text")
    return {name: getattr(line, name) for name in names}
