"""What keeps a charge from being made, rule by rule, and how many grams of which metal would mend it.

Each rule is asked in turn, as if what the rules before it miss were there; so the grams of all problems
together make the charge possible.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction

from studio.kit.printing import print_fineness, print_mass, print_melts, print_percent
from studio.kit.units import PCT100_WHOLE

from .charge_fitting import HAIRS_UG, Kind, find_masses, make_choices, sort_into_kinds
from .charge_search import search_amounts
from .charge_shelf import Bind, ChargeWanted, Problem, Shelf, ShelfLot, say_short, say_whose
from .ledger import Amount

_MOST_LABELS = 3
_PARTS = 1_000
_UNEVEN = "No charge was found that keeps all rules at once. Ask for a little more or less metal, or weigh it by hand."
_SHARE_WORDS = {PCT100_WHOLE // 2: "Half", PCT100_WHOLE: "All"}


def check_what_binds(shelf: Shelf, wanted: ChargeWanted) -> tuple[Problem, ...]:
    """The rules that keep the charge from being made from this shelf; to be asked where none can be made."""
    for hair_ug in HAIRS_UG:
        problems = _check_rules(shelf, wanted, hair_ug)
        bought = [
            _bought(-place, problem.missing_mg, problem.add_per_mille, wanted)
            for place, problem in enumerate(problems, start=1)
            if problem.missing_mg
        ]
        if bought and find_masses([*shelf.usable, *bought], wanted):
            break
    return (*problems, *_check_barred(shelf, wanted)) or (Problem(Bind.UNEVEN, _UNEVEN),)


def _check_rules(shelf: Shelf, wanted: ChargeWanted, hair_ug: int) -> list[Problem]:
    problems = [*_check_total(shelf, wanted), *_check_fresh(shelf, wanted)]
    problems += _check_mean_melts(shelf, wanted, _most_missing_mg(problems))
    return [*problems, *_check_mark(shelf, wanted, _most_missing_mg(problems), hair_ug)]


def _most_missing_mg(problems: Sequence[Problem]) -> int:
    return max((problem.missing_mg for problem in problems), default=0)


def say_fresh_rule(least_fresh_pct100: int) -> str:
    share = _SHARE_WORDS.get(least_fresh_pct100) or print_percent(least_fresh_pct100)
    return f"{share} must be fresh"


def _check_total(shelf: Shelf, wanted: ChargeWanted) -> list[Problem]:
    here_mg = sum(lot.usable_mg for lot in shelf.usable)
    if here_mg >= wanted.needed_mg:
        return []
    sentence = (
        f"The shelf holds {print_mass(here_mg)} that may go in; {print_mass(wanted.needed_mg)} are needed: "
        f"{say_short(here_mg, wanted.needed_mg)}."
    )
    missing_mg = wanted.needed_mg - here_mg
    return [Problem(Bind.TOTAL, sentence, missing_mg, wanted.rules.per_mille)]


def _check_fresh(shelf: Shelf, wanted: ChargeWanted) -> list[Problem]:
    here_mg = sum(lot.usable_mg for lot in shelf.usable if lot.counts_fresh)
    needed_mg = wanted.rules.compute_fresh_needed_mg(wanted.needed_mg)
    if here_mg >= needed_mg:
        return []
    sentence = (
        f"{say_fresh_rule(wanted.rules.least_fresh_pct100)}: {print_mass(needed_mg)} of fresh metal are needed "
        f"and {print_mass(here_mg)} are here: {say_short(here_mg, needed_mg)}."
    )
    return [Problem(Bind.FRESH, sentence, needed_mg - here_mg, wanted.rules.per_mille)]


def _check_mean_melts(shelf: Shelf, wanted: ChargeWanted, added_mg: int) -> list[Problem]:
    """Lots below the limit can still make a charge beyond it, where little of it is fresh."""
    no_mark = replace(wanted, rules=replace(wanted.rules, per_mille=0))
    missing_mg = _least_to_add(shelf.usable, no_mark, 0)
    if missing_mg is None or missing_mg <= added_mg:
        return []
    sentence = (
        f"After the pour this metal would have had more than your limit of "
        f"{print_melts(wanted.rules.most_melts_milli)}. Adding {print_mass(missing_mg)} of fresh metal would keep it."
    )
    return [Problem(Bind.MELTS, sentence, missing_mg, wanted.rules.per_mille)]


def _check_mark(shelf: Shelf, wanted: ChargeWanted, added_mg: int, hair_ug: int) -> list[Problem]:
    """Fine metal to buy, when `added_mg` of fresh metal of the mark is there besides: exact to the milligram."""
    mark = wanted.rules.per_mille
    if not mark or not shelf.usable:
        return []
    lots = [*shelf.usable, _bought(-1, added_mg, mark, wanted)] if added_mg else shelf.usable
    missing_mg = _least_to_add(lots, wanted, wanted.finer_per_mille, hair_ug)
    if missing_mg == 0:
        return []
    sentence = f"{_say_finest(lots, wanted, added_mg)}; the mark is {mark}."
    if missing_mg is None:
        return [Problem(Bind.MARK, f"{sentence} Metal finer than {wanted.finer_per_mille} is needed.")]
    bought = f"{print_mass(missing_mg)} of fine {wanted.metal} ({wanted.finer_per_mille})"
    sentence += f" Adding {bought} would reach it."
    return [Problem(Bind.MARK, sentence, missing_mg, wanted.finer_per_mille)]


def _check_barred(shelf: Shelf, wanted: ChargeWanted) -> list[Problem]:
    """Say of metal that a rule keeps out that it does, where more could be cast with it."""
    if not (shelf.tired or shelf.foreign):
        return []
    problems = []
    most_mg = _most_mg(shelf.usable, wanted)
    no_limit = replace(wanted, rules=replace(wanted.rules, most_melts_milli=0))
    if shelf.tired and _most_mg([*shelf.usable, *shelf.tired], no_limit) > most_mg:
        problems.append(Problem(Bind.MELTS, _say_tired(shelf, wanted)))
    if shelf.foreign and _most_mg([*shelf.usable, *shelf.foreign], wanted) > most_mg:
        mass = print_mass(sum(lot.usable_mg for lot in shelf.foreign))
        are_theirs = "belongs to {} and stays" if len(shelf.foreign) == 1 else "belong to {} and stay"
        sentence = f"{mass} of {_say_labels(shelf.foreign)} {are_theirs.format(say_whose(wanted))} theirs."
        problems.append(Problem(Bind.OWNER, sentence))
    return problems


def _say_tired(shelf: Shelf, wanted: ChargeWanted) -> str:
    limit = print_melts(wanted.rules.most_melts_milli)
    mass = print_mass(sum(lot.usable_mg for lot in shelf.tired))
    if all(lot.counts_fresh for lot in shelf.usable):
        said = f"Every reclaim lot has been melted as often as your limit of {limit}, or more often: {mass} stay out."
    else:
        said = (
            f"{mass} of {_say_labels(shelf.tired)} stay out: melted as often as your limit of {limit}, "
            "or more often."
        )
    return f"{said} Have it refined."


def _say_labels(lots: Sequence[ShelfLot]) -> str:
    named = [lot.label for lot in lots[:_MOST_LABELS]]
    more = len(lots) - len(named)
    if more:
        named.append(f"{more} more")
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"


def _bought(key: int, mass_mg: int, per_mille: int, wanted: ChargeWanted) -> ShelfLot:
    held = Amount(mass_mg, mass_mg * per_mille)
    return ShelfLot(key, "metal to buy", held, mass_mg, date.max, owner=wanted.owner)


def _least_to_add(
    lots: Sequence[ShelfLot], wanted: ChargeWanted, per_mille: int, hair_ug: int = HAIRS_UG[0]
) -> int | None:
    """The fewest milligrams of fresh metal of a fineness with which the charge can be made; None if none do."""
    bought = Kind((_bought(-1, wanted.needed_mg, per_mille, wanted),), Fraction(per_mille))
    kinds = [*sort_into_kinds(lots, wanted, hair_ug), bought]
    choices = [
        replace(choice, leading=(-(kind is bought),), lesser=())
        for kind, choice in zip(kinds, make_choices(kinds, wanted, 1, 1), strict=True)
    ]
    amounts = search_amounts(choices, wanted.needed_mg)
    return None if amounts is None else amounts[-1]


def _most_mg(lots: Sequence[ShelfLot], wanted: ChargeWanted) -> int:
    """The largest charge, up to the one that is wanted, that keeps all rules."""
    choices = make_choices(sort_into_kinds(lots, wanted), wanted, 1, 1)
    plain = [replace(choice, leading=(), lesser=()) for choice in choices]
    return sum(search_amounts(plain, wanted.needed_mg, must_fill=False) or [])


def _say_finest(lots: Sequence[ShelfLot], wanted: ChargeWanted, added_mg: int) -> str:
    """The best fineness that the other rules allow, for as much of the charge as can be made."""
    no_mark = replace(wanted, rules=replace(wanted.rules, per_mille=0))
    kinds = sort_into_kinds(lots, no_mark)
    choices = [
        replace(choice, leading=(int(kind.per_mille * _PARTS),), lesser=())
        for kind, choice in zip(kinds, make_choices(kinds, no_mark, 1, 1), strict=True)
    ]
    amounts = search_amounts(choices, wanted.needed_mg, must_fill=False) or []
    fine_ug = sum(amount * kind.per_mille for amount, kind in zip(amounts, kinds, strict=True))
    total_mg = sum(amounts)
    opening = "The finest charge of this size comes to"
    if added_mg:
        opening = f"With {print_mass(added_mg)} of fresh {wanted.rules.per_mille} added, the charge comes to"
    elif total_mg == sum(lot.usable_mg for lot in lots):
        opening = "All that may go in comes to"
    return f"{opening} {print_fineness(int(fine_ug), total_mg)} per mille"
