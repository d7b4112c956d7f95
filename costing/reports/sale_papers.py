"""Papers that go out of the house: a bill to a customer, and the note that goes with pieces to a gallery. No cost."""

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.core.exceptions import ValidationError

from costing.core.price import print_rule_value
from costing.models import CustomerBill, Outing
from costing.queries.sales import bills, counted_lines, out_rows, outings, paid_back_since, refunds_of
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Facts,
    Filled,
    NoteLines,
    Prose,
    Table,
    fill_table,
    summed,
)
from studio.kit.fields import NUMBER_MAX, LineField, NumberField
from studio.kit.models import only_one
from studio.kit.printing import print_day, print_money
from studio.kit.reporting import RecordReportForm, ReportForm, report

_BILL = re.compile(r"(\d{4})-(\d{1,9})")


class BillChoiceForm(ReportForm):
    bill = LineField(
        label="Bill", max_length=20, required=False, help_text="Such as 2026-3. Left empty: the latest."
    )

    def clean_bill(self) -> CustomerBill:
        text = self.cleaned_data["bill"]
        match = _BILL.fullmatch(text) if text else None
        if text and match is None:
            raise ValidationError("Write year and number of the bill, such as 2026-3.")
        found = bills().filter(year=int(match[1]), number=int(match[2])) if match else bills()
        bill = found.first()
        if bill is None:
            raise ValidationError(f"There is no bill {text}." if text else "No bill was written yet.")
        return bill

    def settled(self) -> dict[str, str]:
        bill = self.cleaned_data["bill"]
        return {"bill": f"{bill.year}-{bill.number}"}


@report(
    "customer-bill",
    "Bill for a customer",
    "What was sold, the tax by line or for the whole bill as you set it, and the total.",
    BillChoiceForm,
    place=52,
)
def build_bill(params: Mapping[str, Any]) -> Document:
    bill: CustomerBill = params["bill"]
    facts = [("To", bill.buyer), *([("Address", bill.address)] if bill.address else [])]
    facts += [
        ("Date", print_day(bill.day, with_year=True)),
        ("Supplied", print_day(bill.sold_on, with_year=True)),
    ]
    facts += [("From", bill.sender)] if bill.sender else []
    facts += [("Our tax number", bill.tax_number)] if bill.tax_number else []
    blocks: list[Block] = []
    if bill.struck_out_on is not None:
        blocks.append(
            Prose(f"Struck out on {print_day(bill.struck_out_on, with_year=True)}: {bill.struck_out_why}")
        )
    blocks += [Facts(tuple(facts)), _table_bill(bill)]
    blocks.append(Prose("Paid, with thanks." if bill.is_paid else "To be paid."))
    document = make_document(current_studio(), str(bill), blocks, f"bill {bill.year}-{bill.number:03}")
    since = _say_back_since(bill)
    # What a customer holds in hand says the same for good: what came back later is told on the page alone.
    return replace(document, blocks=(*blocks, Prose(since)), on_paper=len(blocks)) if since else document


def _say_back_since(bill: CustomerBill) -> str:
    lines = list(counted_lines().filter(sale=bill.sale_id))
    refunds = [one for rows in refunds_of([line.pk for line in lines]).values() for one in rows]
    back_micro = 0 if bill.struck_out_on else paid_back_since(bill, lines, refunds)
    if not back_micro:
        return ""
    named = ", ".join(dict.fromkeys(str(one.line.piece) for one in refunds if one.entry_id))
    came = f" Here again: {named}." if named else ""
    return f"Since it was written, {print_money(back_micro)} of it was paid back.{came} The paper stays as it was."


def _table_bill(bill: CustomerBill) -> Table:
    rows = list(bill.rows.order_by("pk"))
    before, taxes = [row.before_tax_micro for row in rows], [row.tax_micro for row in rows]
    filled = [Filled(Column("what", "What"), [row.what for row in rows], "Total")]
    note = ""
    if bill.tax_pct100:
        rate = print_rule_value(bill.tax_pct100, "margin")
        filled += [
            summed(Column("before", "Before tax", "money"), before),
            summed(Column("tax", f"Tax {rate}", "money"), taxes),
        ]
        note = (
            "Tax is rounded line by line." if bill.tax_by_line else "Tax is rounded once, for the whole bill."
        )
    together = [one + tax for one, tax in zip(before, taxes, strict=True)]
    filled.append(summed(Column("total", "To pay", "money", on_phone=True), together))
    return fill_table("Sold", filled, note)


class OutingForm(RecordReportForm):
    outing = NumberField(
        "Fair or gallery", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False
    )

    record = "outing"
    none_yet = "Nothing went out yet."
    unknown = "There is no number {}."

    def find(self, number: int | None) -> Any:
        return outings().first() if number is None else only_one(outings().filter(pk=number))


@report(
    "consignment-note",
    "Note for pieces at a gallery or fair",
    "What went out with its weight and price, to be signed by both. It says nothing of what it cost.",
    OutingForm,
    place=53,
)
def build_note(params: Mapping[str, Any]) -> Document:
    outing: Outing = params["outing"]
    rows = list(out_rows(outing))
    prices = [row.price_micro for row in rows]
    table = fill_table(
        "Pieces",
        (
            Filled(Column("what", "Piece"), [row.piece.name for row in rows], "Together"),
            Filled(
                Column("number", "Number"), [f"{row.piece.cast.number}.{row.piece.number}" for row in rows]
            ),
            Filled(Column("metal", "Metal"), [str(row.piece.cast.alloy) for row in rows]),
            summed(Column("price", "Price", "money", on_phone=True), prices),
        ),
    )
    share = int(outing.channel.commission_pct100)
    keeps = (
        f" They keep {print_rule_value(share, 'margin')} of the price before tax of what is sold."
        if share
        else ""
    )
    said = f"The pieces stay {current_studio().name}'s until they are sold or handed back.{keeps}"
    blocks: tuple[Block, ...] = (
        Facts(
            (
                ("With", outing.name),
                ("Since", print_day(outing.day, with_year=True)),
                ("Our number", str(outing.pk)),
            )
        ),
        table,
        Prose(said),
        NoteLines("Received, name and day", 1),
        NoteLines("For the studio, name and day", 1),
    )
    return make_document(current_studio(), "Pieces on sale or return", blocks, f"note {outing.pk}")
