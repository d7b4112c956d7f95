"""The cost of a cast: what each piece of it cost, what was set aside, and how every figure came about."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils import timezone

from costing.core.price import PriceRule, Rounding, Rule, compute_price
from costing.core.rollup import PrintedCost, compute_printed
from costing.models import Policy
from costing.queries import CostedCast, cost_casts
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Studio
from inventory.queries.casting_page import CastPage, read_cast_page
from inventory.queries.studio import current_studio
from studio.kit.charts import cost_bar, gram_bar
from studio.kit.documents import Block, Column, Document, Facts, Heading, Prose, Table, WorkingBlock
from studio.kit.forms import StudioForm
from studio.kit.printing import print_celsius, print_day, print_mass, print_minutes, print_percent
from studio.kit.reporting import Report, register

# How the lines of a cost stand together in the columns of the table of pieces.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Metal", ("own_metal",)),
    ("Loss", ("lost_metal", "reclaim_write_down")),
    ("Mould", ("powder", "pattern")),
    ("Kiln and wear", ("energy", "wear")),
    ("Small stock", ("consumables", "other_stock")),
    ("Time", ("bench_cast", "bench_piece", "overhead")),
)


class CastCostForm(StudioForm):
    """Which cast; the newest closed one when none is named."""

    marks_optional = False
    cast = forms.IntegerField(
        label="Cast",
        required=False,
        min_value=1,
        max_value=2_000_000_000,
        help_text="Its number. Left empty, the newest closed cast.",
        error_messages={
            "invalid": "Write the number of a cast, such as 40.",
            "min_value": "Casts are numbered from 1.",
            "max_value": "There is no cast of this number.",
        },
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        number = cleaned.get("cast")
        closed = Cast.objects.filter(closed_on__isnull=False)
        found = closed.filter(number=number).first() if number else closed.order_by("-day", "-pk").first()
        if found is None:
            sentence = "No cast is closed yet: weigh what came out of one first."
            if number:
                sentence = (
                    f"Cast {number} is not there, or not closed yet. Write the number of a closed cast."
                )
            self.add_error("cast", sentence)
        cleaned["found"] = found
        return cleaned


def penny(studio: Studio) -> int:
    """The last unit of money that is printed, in millionths."""
    return int(10 ** (6 - studio.money_decimals))


def build_cast_cost(params: Mapping[str, Any]) -> Document:
    """The document of one closed cast. `params` is the cleaned data of CastCostForm."""
    cast: Cast = params["found"]
    studio = current_studio()
    costed = cost_casts([cast.pk])[cast.pk]
    page = read_cast_page(costed.cast, studio)
    printed = compute_printed(costed.cost, penny(studio))
    return Document(
        name="cast-cost",
        title=f"Cost of cast {cast.number}",
        subtitle=cast.title,
        studio=studio.name,
        made_on=timezone.localdate(),
        period_text=f"cast {print_day(cast.day, with_year=True)}",
        blocks=(
            _facts(costed, page),
            _gram_picture(page),
            _piece_table(costed, printed),
            *_prices(costed, printed),
            _cost_picture(printed),
            _line_table(costed, printed),
            *_workings(costed, page),
        ),
        filename=f"cast-{cast.number}-cost",
        currency=studio.currency,
    )


def _facts(costed: CostedCast, page: CastPage) -> Facts:
    cast, inputs = costed.cast, costed.inputs
    share = compute_share_pct100(inputs.lost_mg, inputs.charge_mg)
    pairs = [
        ("Alloy", f"{cast.alloy}, {cast.alloy.fineness} of 1000" if cast.alloy.fineness else str(cast.alloy)),
        ("Metal of", str(cast.owner) if cast.owner else "the studio"),
        ("Came out", cast.get_outcome_display()),
        ("Charge", print_mass(inputs.charge_mg)),
    ]
    pairs += [
        (f"  of lot {line.source.lot.pk}", f"{print_mass(line.quantity)} {line.source.lot.material}")
        for line in page.charge
    ]
    pairs.append(("Lost", f"{print_mass(inputs.lost_mg)}, {print_percent(share)} of the charge"))
    pairs += [
        (label, str(tool))
        for label, tool in (("Flask", cast.flask), ("Crucible", cast.crucible), ("Machine", cast.machine))
        if tool
    ]
    if cast.firing:
        hours = print_minutes(cast.firing.minutes)
        pairs.append(("Firing", f"{cast.firing.pk}, {print_day(cast.firing.day, with_year=True)}, {hours}"))
    if cast.metal_c:
        pairs.append(("Metal at the pour", print_celsius(cast.metal_c)))
    pairs.append(("Cost rules", f"in force from {print_day(costed.policy.from_day, with_year=True)}"))
    return Facts(tuple(pairs))


def _gram_picture(page: CastPage) -> Block:
    grams = page.grams
    return gram_bar(grams.pieces_mg, grams.back_mg, grams.filings_mg, grams.lost_mg)


def _grouped(printed: PrintedCost) -> list[tuple[str, list[int], list[int]]]:
    """(heading, amount of each piece, amount of each reason set aside) of each group that has a cost."""
    grouped = []
    for heading, keys in GROUPS:
        lines = [line for line in printed.lines if line.key in keys]
        pieces = [sum(amounts) for amounts in zip(*(line.piece_micro for line in lines), strict=True)]
        aside = [sum(amounts) for amounts in zip(*(line.aside_micro for line in lines), strict=True)]
        if any(line.total_micro for line in lines):
            grouped.append((heading, pieces, aside))
    return grouped


def _piece_table(costed: CostedCast, printed: PrintedCost) -> Table:
    groups = _grouped(printed)
    columns = (
        Column("piece", "Piece", on_phone=True),
        Column("mass", "Weighs", "mass", on_phone=False),
        *(Column(f"group{place}", heading, "money") for place, (heading, _, _) in enumerate(groups)),
        Column("cost", "Cost", "money", on_phone=True),
    )
    rows: list[tuple[Any, ...]] = [
        (
            f"{piece.number}. {piece.name}" + (" (back in the pot)" if piece.state == "melted" else ""),
            costed.piece_mg[place],
            *(pieces[place] for _, pieces, _ in groups),
            printed.piece_totals_micro[place],
        )
        for place, piece in enumerate(costed.pieces)
    ]
    rows += [
        (
            f"Set aside: {aside.label.lower()}",
            None,
            *(asides[place] for _, _, asides in groups),
            printed.aside_totals_micro[place],
        )
        for place, aside in enumerate(costed.cost.set_aside)
    ]
    sums = (sum(pieces) + sum(asides) for _, pieces, asides in groups)
    totals: tuple[Any, ...] = ("The cast", sum(costed.piece_mg), *sums, printed.total_micro)
    note = "Rounded so that every row and every column adds up to what is printed."
    return Table("What each piece cost", columns, tuple(rows), totals, note)


def _cost_picture(printed: PrintedCost) -> Block:
    return cost_bar([(heading, sum(pieces) + sum(aside)) for heading, pieces, aside in _grouped(printed)])


def _line_table(costed: CostedCast, printed: PrintedCost) -> Table:
    columns = (
        Column("line", "Line", on_phone=True),
        Column("pieces", "On the pieces", "money"),
        Column("aside", "Set aside", "money"),
        Column("total", "Together", "money", on_phone=True),
    )
    rows = tuple(
        (line.label, sum(line.piece_micro), line.set_aside_micro, line.total_micro)
        for line in printed.lines
        if line.total_micro or line.set_aside_micro
    )
    totals = ("The cast", sum(printed.piece_totals_micro), printed.set_aside_micro, printed.total_micro)
    return Table("Every line of the cost", columns, rows, totals)


def price_rules(policy: Policy) -> tuple[PriceRule, ...]:
    """How the studio sells, by the cost rules of a day."""
    return tuple(
        PriceRule(
            label=label,
            rule=Rule(method),
            # A margin is kept in hundredths of a per cent, a multiple in hundredths of the cost.
            value_pct100=value if method == Policy.Method.MARGIN else value * 100,
            step_micro=policy.price_step_micro,
            rounding=Rounding(policy.price_rounding),
            tax_pct100=policy.tax_pct100,
        )
        for label, method, value in (
            ("Wholesale", policy.wholesale_method, policy.wholesale_hundredths),
            ("Retail", policy.retail_method, policy.retail_hundredths),
        )
    )


def _prices(costed: CostedCast, printed: PrintedCost) -> tuple[Block, ...]:
    rules = price_rules(costed.policy)
    good = [place for place, piece in enumerate(costed.pieces) if piece.state != "melted"]
    if not good:
        return (Prose("No piece of this cast is left to sell."),)
    columns = (
        Column("piece", "Piece", on_phone=True),
        Column("cost", "Cost", "money"),
        *(Column(rule.label.lower(), rule.label, "money", on_phone=True) for rule in rules),
    )
    rows: tuple[tuple[Any, ...], ...] = tuple(
        (
            f"{costed.pieces[place].number}. {costed.pieces[place].name}",
            printed.piece_totals_micro[place],
            *(compute_price(costed.cost.piece_totals_micro[place], rule).asked_micro for rule in rules),
        )
        for place in good
    )
    note = "By the studio's own rules of the day, on what each piece cost; tax is in it where there is any."
    return (Table("What to ask for them", columns, rows, None, note),)


def _workings(costed: CostedCast, page: CastPage) -> tuple[Block, ...]:
    blocks: list[Block] = [Heading("How it came about")]
    if page.balance is not None:
        blocks.append(WorkingBlock(page.balance.working))
    if page.sums is not None and page.sums.fineness is not None:
        blocks.append(WorkingBlock(page.sums.fineness))
    blocks += [WorkingBlock(line.working) for line in costed.cost.lines if line.total_micro]
    blocks += [WorkingBlock(working) for working in costed.use.workings]
    return tuple(blocks)


register(
    Report(
        name="cast-cost",
        title="Cost of a cast",
        summary="What each piece of a cast cost, what was set aside, and the working of every line.",
        form_class=CastCostForm,
        build=build_cast_cost,
    )
)
