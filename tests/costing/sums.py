"""Every sum that is shown of a cast's cost, exact and printed, added up here without the code that is tried."""

from collections import defaultdict

from costing.core.rollup import GROUPS


def sums_of(lines):
    """Every figure of a table by its name; a line is (key, cells of the pieces, cells of what was set aside)."""
    sums = defaultdict(int)
    for key, pieces, asides in lines:
        group = next(group for group, keys in GROUPS.items() if key in keys)
        for side, cells in (("pieces", pieces), ("aside", asides)):
            for place, amount in enumerate(cells):
                for name in (
                    ("cell", key, side, place),
                    ("line and side", key, side),
                    ("line", key),
                    ("group", group),
                    ("column and group", side, place, group),
                    ("column", side, place),
                    ("side", side),
                    ("whole",),
                ):
                    sums[name] += amount
    return sums


def exact_sums(cost):
    reasons = [aside.key for aside in cost.set_aside]
    return sums_of(
        (line.key, line.piece_micro, [line.aside_micro(reason) for reason in reasons]) for line in cost.lines
    )


def check_beside(cost, printed, unit):
    """Every figure is a multiple of the unit beside its exact value, and is the sum of what it stands for."""
    exact = exact_sums(cost)
    shown = sums_of((line.key, line.piece_micro, line.aside_micro) for line in printed.lines)
    for name, amount in exact.items():
        assert shown[name] % unit == 0, name
        assert abs(shown[name] - amount) < unit, (name, amount, shown[name])
    assert abs(shown["whole",] - exact["whole",]) * 2 <= unit
    assert printed.total_micro == shown["whole",]
    assert printed.carried_micro == shown["side", "pieces"]
    assert printed.set_aside_micro == shown["side", "aside"]
    for side, totals in (("pieces", printed.piece_totals_micro), ("aside", printed.aside_totals_micro)):
        for place, total in enumerate(totals):
            assert total == shown["column", side, place]
    for line in printed.lines:
        assert line.total_micro == shown["line", line.key]
        assert line.set_aside_micro == shown["line and side", line.key, "aside"]
    for group, sums in printed.groups.items():
        assert printed.group_total_micro(group) == shown["group", group]
        count = len(printed.piece_totals_micro)
        assert sums[:count] == tuple(
            shown["column and group", "pieces", place, group] for place in range(count)
        )
