"""What a cast cost: where the metal went, what each piece carries, and the sum behind every figure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils import timezone

from costing.core.lines import compute_normal_loss
from costing.core.metal_price import say_age
from costing.core.others import WorkDone, compute_piece_work, compute_work_price
from costing.core.price import PriceRule
from costing.forms.channels import WorkForm
from costing.forms.reports import CastForm
from costing.models import Policy
from costing.queries.costed import CostedCast, cost_casts
from costing.queries.metal_price import alloy_prices
from costing.queries.policy import all_policies, policy_on, price_rules
from costing.queries.pricing import casting_terms, core_terms, price_practice
from inventory.models import Studio
from inventory.queries.casting_page import find_cast, read_cast_page
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.chart_pen import Picture
from studio.kit.documents import Block, Document, Heading, Prose, Table, WorkingBlock
from studio.kit.printing import (
    print_day,
    print_money,
    print_percent,
    print_weighed,
)
from studio.kit.reporting import report
from studio.kit.units import PCT100_WHOLE, divide_half_up
from studio.kit.working import Working

from .cast_facts import tell_facts
from .cost_sheet import (
    CastSheet,
    name_rules,
    picture_cost,
    picture_grams,
    say_rules,
    table_charge,
    table_lines,
    table_pieces,
    table_pieces_asked,
    table_prices,
)
from .lacks import say_lacks, say_unpaid


def read_sheet(number: int, studio: Studio) -> CastSheet | None:
    """Everything about the cost of a cast; None for a cast that is open or not there."""
    cast = find_cast(number)
    if cast is None or not cast.is_closed:
        return None
    policies = all_policies()
    costed = cost_casts([cast.pk], policies)[cast.pk]
    # What a customer pays for their own metal is what the work costs them, by terms and not by these rules.
    rules = rules_of_today(policies) if cast.owner_id is None else ()
    return CastSheet(costed, read_cast_page(cast, studio), rules)


def rules_of_today(policies: Sequence[Policy] | None = None) -> tuple[PriceRule, ...]:
    """Prices are asked today, whatever the day of the cast; `policies` are all cost rules, if read already."""
    return price_rules(policy_on(timezone.localdate(), all_policies() if policies is None else policies))


@report(
    "cast-cost",
    "Cost of a cast",
    "What went in, where the metal went, what each piece cost and what to ask for it.",
    CastForm,
    place=2,
)
def build_cast_cost(params: Mapping[str, Any]) -> Document:
    studio = current_studio()
    sheet = read_sheet(params["cast"], studio)
    if sheet is None:
        raise ValueError(f"cast {params['cast']} is not closed")
    return make_cast_document(sheet, studio, bool(params.get("working")))


def make_cast_document(sheet: CastSheet, studio: Studio, with_working: bool = True) -> Document:
    """Without the working, paper ends before it and says where it is; the page has it always."""
    cast = sheet.costed.cast
    told = [
        tell_facts(sheet),
        picture_grams(sheet),
        table_charge(sheet),
        Heading("What it cost"),
        Prose(_say_cost(sheet)),
        table_pieces(sheet),
        picture_cost(sheet.printed),
        table_lines("What the cost is made of", sheet.costed.lines, sheet.printed, sheet.whole, parted=True),
        *_price_blocks(sheet),
    ]
    if not with_working:
        told.append(
            Prose(
                "How every figure came about is left to the page of the cost, and printed when it is asked for."
            )
        )
    examples = _price_workings(sheet)
    document = make_document(
        studio,
        f"Cost of cast {cast.number}",
        [*told, *examples, *_working_blocks(sheet)],
        subtitle=cast.title,
        period_text=f"cast on {print_day(cast.day, with_year=True)}",
        filename=f"cast-{cast.number}-cost",
    )
    return document if with_working else replace(document, on_paper=len(told))


@dataclass(frozen=True)
class CastPart:
    """What a cast cost, for its own page, which shows the facts and the grams itself.

    The pieces are the first of them; `prices` shows how the price of one of them, `example`, is reached.
    """

    sentence: str
    total_micro: int
    pieces: Table
    picture: Picture
    example: str
    prices: tuple[Working, ...]
    workings: tuple[Working, ...]


def make_cast_part(sheet: CastSheet) -> CastPart:
    asked = sheet.good_prices()
    place, prices = asked[0] if asked else (0, ())
    return CastPart(
        sentence=_say_cost(sheet),
        total_micro=sheet.printed.total_micro,
        pieces=table_pieces_asked(sheet, _say_prices(sheet) if sheet.rules else ""),
        picture=picture_cost(sheet.printed),
        example=sheet.costed.pieces[place].name if prices else "",
        prices=tuple(price.working for price in prices if price.working),
        workings=sheet.costed.workings,
    )


@dataclass(frozen=True)
class WorkPart:
    """What the work on a customer's cast costs them; `form` None while the studio has no terms."""

    form: WorkForm | None
    total_micro: int | None = None
    working: Working | None = None
    problem: str = ""


def read_work(sheet: CastSheet, data: Any) -> WorkPart | None:
    """What casting costs the customer whose metal it is, by what an address asks; None for the studio's own cast."""
    cast = sheet.costed.cast
    if cast.owner_id is None:
        return None
    terms = list(casting_terms()[:1])
    if not terms:
        return WorkPart(None)
    form = WorkForm(data, terms[0])
    if not form.is_valid():
        return WorkPart(form)
    found, per_kg, old = form.cleaned_data, None, ""
    if found["metal"] == "studio":
        price = alloy_prices([cast.alloy]).get(cast.alloy_id)
        if price is None:
            return WorkPart(
                form, problem=f"Write down what {cast.alloy} costs, to reckon metal bought from you."
            )
        per_kg, old = (
            price.micro_per_kg,
            say_age(
                price.metal or str(cast.alloy),
                price.day,
                timezone.localdate(),
                price_practice().old_price_days,
            ),
        )
    done = WorkDone(
        cast_mg=sum(sheet.costed.pieces[place].as_cast_mg for place in sheet.costed.inputs.good_places),
        moulds=found["moulds"],
        metal_micro_per_kg=per_kg,
    )
    total, working = compute_work_price(done, core_terms(found["terms"]), sheet.page.studio.penny_micro)
    return WorkPart(form, total, working, old)


def read_piece_work(costed: CostedCast, place: int, unit_micro: int) -> tuple[int, Working] | None:
    """What casting a piece costs the customer whose metal it is, by the first terms; None without any."""
    terms = casting_terms().first()
    if terms is None:
        return None
    places = costed.inputs.good_places
    masses = [costed.pieces[one].as_cast_mg for one in places]
    return compute_piece_work(masses, places.index(place), core_terms(terms), unit_micro)


def _say_cost(sheet: CastSheet) -> str:
    printed, costed = sheet.printed, sheet.costed
    said = [f"The cast cost {print_money(printed.total_micro)}{say_lacks(sheet.lacks)}."]
    if costed.cast.owner_id is not None:
        said.append(f"The metal is {costed.cast.owner}'s and carries no cost here: this is the work.")
    for aside, amount in zip(costed.cost.set_aside, printed.aside_totals_micro, strict=True):
        said.append(f"No piece carries {print_money(amount)} of it: {aside.label.lower()}.")
    said += [*_say_loss(sheet), say_rules(costed.policy, costed.cast.day)]
    return " ".join(said).strip()


def _say_loss(sheet: CastSheet) -> list[str]:
    """Whether more was lost than is normal, or less than the scale can show."""
    lost_mg, charge_mg = sheet.costed.inputs.lost_mg, sheet.costed.inputs.charge_mg
    if charge_mg <= 0:
        return []
    normal_pct100 = sheet.costed.policy.normal_loss_pct100
    _, beyond_mg = compute_normal_loss(charge_mg, lost_mg, normal_pct100)
    share = print_percent(divide_half_up(lost_mg * PCT100_WHOLE, charge_mg))
    lost = f"{print_weighed(lost_mg)} of metal is lost, {share} of the charge"
    normal = f"the {print_percent(normal_pct100)} that is normal"
    if beyond_mg > 0:
        return [f"{lost}: {print_weighed(beyond_mg)} more than {normal}."]
    if sheet.page.balance is not None and abs(lost_mg) <= sheet.page.balance.tolerance_mg:
        return [f"{lost}, which is no more than the scale can show."]
    return [f"{lost}, within {normal}."]


def _price_blocks(sheet: CastSheet) -> list[Block]:
    prices = sheet.good_prices()
    if not prices or not sheet.rules:
        return []
    problems = {price.problem for _, row in prices for price in row if price.problem}
    if problems:
        return [Heading("What to ask"), *(Prose(problem) for problem in sorted(problems))]
    return [
        Heading("What to ask"),
        Prose(_say_prices(sheet)),
        table_prices(sheet, prices),
    ]


def _price_workings(sheet: CastSheet) -> list[Block]:
    prices = sheet.good_prices()
    if not prices or not sheet.rules or any(price.problem for _, row in prices for price in row):
        return []
    place, example = prices[0]
    return [
        Heading(f"How prices are reached, on the example of {sheet.costed.pieces[place].name}"),
        *(WorkingBlock(price.working) for price in example if price.working),
    ]


def _say_prices(sheet: CastSheet) -> str:
    taxes = {rule.tax_pct100 for rule in sheet.rules if rule.tax_pct100}
    rules = name_rules(sheet.costed.policy, " of today")
    said = [f"Prices follow {rules}, on what each piece cost."]
    if taxes:
        said.append(f"{print_percent(max(taxes))} tax is in them.")
    return " ".join([*said, *say_unpaid(sheet.lacks, of_cast=True)])


def _working_blocks(sheet: CastSheet) -> list[Block]:
    page = sheet.page
    metal = [
        page.sums.fineness if page.sums else None,
        page.sums.melts if page.sums else None,
        page.balance.working if page.balance else None,
    ]
    return [
        Heading("How the cost came about"),
        *(WorkingBlock(working) for working in sheet.costed.workings),
        Heading("The metal, as weighed"),
        *(WorkingBlock(working) for working in metal if working is not None),
    ]
