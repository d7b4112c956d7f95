"""What is told of a cast above its cost: what it was, how it was poured, its yield and its cost per gram."""

from inventory.models import Cast
from inventory.queries.ledger import name_lot
from studio.kit.documents import Facts
from studio.kit.measures import VACUUM
from studio.kit.printing import (
    print_celsius,
    print_mass,
    print_minutes,
    print_money,
    print_percent,
    print_weighed,
)
from studio.kit.units import MG_PER_G, PCT100_WHOLE, divide_half_up

from .cost_sheet import CastSheet, say_day


def tell_facts(sheet: CastSheet) -> Facts:
    cast = sheet.page.cast
    pairs = [
        ("Metal", (f"{cast.alloy}, which belongs to {cast.owner}" if cast.owner else str(cast.alloy))),
        ("Outcome", _say_outcome(sheet)),
        ("Flask", cast.flask.name if cast.flask else ""),
        ("Crucible", cast.crucible.name if cast.crucible else ""),
        ("Firing", _say_firing(cast)),
        ("Poured", _say_pour(cast)),
        ("Powder", _say_powder(sheet)),
        ("Yield", _say_yield(sheet)),
        ("Cost per gram", _say_per_gram(sheet)),
        ("Bench time", print_minutes(sheet.page.bench_minutes) if sheet.page.bench_minutes else ""),
        (
            "Cost rules",
            f"in force from {say_day(sheet.costed.policy.from_day)}"
            if sheet.costed.policy.pk
            else "none yet",
        ),
    ]
    return Facts(tuple((label, text) for label, text in pairs if text))


def _say_outcome(sheet: CastSheet) -> str:
    if sheet.costed.cast.outcome == Cast.Outcome.FAILED:
        return "the whole cast failed"
    if sheet.costed.cast.outcome == Cast.Outcome.UNPOURED:
        return "it was not poured"
    count = len(sheet.costed.pieces)
    spared = count - len(sheet.costed.inputs.good_places)
    pieces = "1 piece" if count == 1 else f"{count} pieces"
    return f"{pieces}, {spared} of them back in the pot" if spared else pieces


def _say_firing(cast: Cast) -> str:
    if cast.firing is None:
        return ""
    day, firing = say_day(cast.firing.day), cast.firing
    return f"{firing.kiln.name}, {day}, {firing.how_long}"


def _say_pour(cast: Cast) -> str:
    """As it was read at the pour."""
    metal = f"metal at {print_celsius(cast.metal_c)}" if cast.metal_c is not None else ""
    flask = f"flask at {print_celsius(cast.flask_c)}" if cast.flask_c is not None else ""
    inhg_tenths = cast.vacuum_inhg_tenths
    vacuum = f"vacuum {VACUUM.print(inhg_tenths)}" if inhg_tenths is not None else ""
    return ", ".join(part for part in (metal, flask, vacuum) if part)


def _say_powder(sheet: CastSheet) -> str:
    lots = (line.source.lot for line in sheet.page.powder)
    names = ", ".join(dict.fromkeys(name_lot(lot) for lot in lots))
    return f"{print_mass(sheet.page.powder_mg)} of {names}" if names else ""


def _say_yield(sheet: CastSheet) -> str:
    """What of the charge is in good pieces."""
    made = sheet.costed.inputs
    if made.charge_mg <= 0 or not made.good_places:
        return ""
    share = print_percent(divide_half_up(made.good_mg * PCT100_WHOLE, made.charge_mg))
    return f"{print_weighed(made.good_mg)} of {print_weighed(made.charge_mg)} is in pieces, {share}"


def _say_per_gram(sheet: CastSheet) -> str:
    """What the pieces carry, over their grams."""
    good_mg, carried = sheet.costed.inputs.good_mg, sheet.printed.carried_micro
    if good_mg <= 0 or not sheet.costed.inputs.good_places:
        return ""
    per_gram = print_money(divide_half_up(carried * MG_PER_G, good_mg))
    return f"{per_gram}: {print_money(carried)} on {print_weighed(good_mg)} in pieces"
