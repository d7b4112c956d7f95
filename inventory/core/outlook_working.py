"""How the day to order by, the quantity and the days of running out came about, as a person can check them."""

from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction

from studio.kit.printing import MINUS, print_about, print_day, print_decimal, print_percent, print_quantity
from studio.kit.units import round_half_up
from studio.kit.working import Given, Step, Working, make_working, origin_of

from .coming import Parcel
from .demand import UNBIASED, WEEKS_A_YEAR
from .lasting import EARLY_PCT100, LATE_PCT100
from .learning_use import SEASON_DOUBT, SEASON_WEEKS, print_times
from .outlook import Outlook
from .reorder import (
    DAYS_PER_WEEK,
    compute_normal_point,
    compute_poisson_point,
    compute_use,
    print_finely,
)

RESAMPLED = (
    "every draw of the weeks behind, each as likely, counted out (bootstrap of demand in the lead time)"
)
# Above so many items in the time of a delivery, single demands are as good as a normal spread.
_FEW_ITEMS = 30


def explain_when(outlook: Outlook) -> Working:
    """The reorder point, the day, and how many casts are left."""
    unit, asked = outlook.asked.unit, outlook.asked
    steps = [*_give_rate(outlook), *_find_point(outlook), *_find_day(outlook)]
    if outlook.casts_left is not None and asked.per_cast:
        per_cast = print_finely(asked.per_cast, unit)
        told = f"whole casts in what counts: {print_quantity(outlook.counts, unit)} ÷ {per_cast}"
        steps.append(Step(told, f"{outlook.casts_left:,}"))
    return make_working(
        "When to order again",
        "the most, with the certainty asked, that the use which takes stock to the point has taken past it, and the "
        "weeks on the road take; what plans and quotes take in that time, where it is more",
        *_give(outlook),
        *steps,
        result=f"order at {print_about(outlook.point, unit)}",
        source=f"{RESAMPLED}; {UNBIASED}" if outlook.use.is_known else RESAMPLED,
        notes=_note_textbook(outlook),
    )


def _give(outlook: Outlook) -> Iterator[Given]:
    asked, unit, use = outlook.asked, outlook.asked.unit, outlook.use
    yield Given(
        "here and usable",
        print_quantity(outlook.good, unit),
        "the stock, without what is damp or out of date",
    )
    yield from (_give_spoilt(parcel, unit) for parcel in outlook.spoils if not parcel.is_on_road)
    for brought in asked.brings:
        yield Given(f"on the road, {brought.what}", print_quantity(brought.quantity, unit), _on(brought.day))
    yield from (_give_spoilt(parcel, unit) for parcel in outlook.spoils if parcel.is_on_road)
    origin = f"the last {use.weeks} week{'s' * (use.weeks != 1)}"
    yield Given("weeks with use", f"{use.uses}", origin)
    for taken in sorted(asked.takes, key=lambda one: one.day):
        yield Given(taken.what, print_quantity(taken.quantity, unit), _on(taken.day))
    days = ", ".join(str(days) for days in asked.leads.days)
    yield Given("days a parcel may take, each as likely", days, asked.leads.origin)
    certainty = asked.certainty_pct100
    yield Given("certainty wanted", print_percent(certainty), origin_of(certainty))


def _give_spoilt(parcel: Parcel, unit: str) -> Given:
    good_until = f"good until {print_day(parcel.last_day, True)}"
    return Given(
        f"of it out of date before it is used, {parcel.label}",
        print_quantity(parcel.quantity, unit),
        good_until,
    )


def _on(day: date) -> str:
    return f"for {print_day(day, with_year=True)}"


def _give_rate(outlook: Outlook) -> Iterator[Step]:
    """The rate's parts stand as they are: their quotient has more digits than a person would copy."""
    use, unit = outlook.use, outlook.asked.unit
    if use.lumps is None:
        yield Step(use.sentence)
        return
    waits = print_decimal(round_half_up(use.lumps.interval * 1_000_000), 6, most=6)
    yield Step(
        "a week with use takes, smoothed by a tenth from the first on", print_finely(use.lumps.size, unit)
    )
    yield Step("weeks from one use to the next, smoothed as well", waits)
    if use.season is not None:
        season = use.season
        yield Step(
            f"the next {SEASON_WEEKS} weeks a year before, of a mean week of the {WEEKS_A_YEAR} behind",
            print_times(season.own),
        )
        yield Step(
            f"drawn towards 1, for {SEASON_DOUBT} uses weigh as much as no season: "
            f"({season.uses} × {print_times(season.own)} + {SEASON_DOUBT}) ÷ ({season.uses} + {SEASON_DOUBT})",
            print_times(season.factor),
        )
    times = ", times the season" if use.season else ""
    yield Step(
        f"a week takes the one over the other, less a twentieth{times}", print_finely(use.a_week, unit)
    )


def _find_point(outlook: Outlook) -> Iterator[Step]:
    asked, unit = outlook.asked, outlook.asked.unit
    weeks = ", ".join(str(weeks) for weeks in asked.leads.covered)
    yield Step("whole weeks on the road, for each", weeks)
    if outlook.use.is_any:
        drawn = "the weeks that are assumed" if not outlook.use.is_known else "the weeks behind"
        drawn += ", times the season" if outlook.use.season else ""
        certainty = print_percent(asked.certainty_pct100)
        yield Step(
            f"enough in {certainty} of all draws of a use and so many weeks from {drawn}, rounded up",
            print_about(outlook.lumps, unit),
        )
    if asked.takes:
        day = asked.today + timedelta(days=asked.leads.window_days)
        yield Step(f"plans and quotes take by {print_day(day, True)}", print_quantity(outlook.planned, unit))
    yield Step(
        "order again at the greater of them" if asked.takes else "order again at",
        print_about(outlook.point, unit),
    )


def _find_day(outlook: Outlook) -> Iterator[Step]:
    unit, use = outlook.asked.unit, outlook.use
    stale = [-parcel.quantity for parcel in sorted(outlook.spoils, key=lambda one: one.is_on_road)]
    here = sum(not parcel.is_on_road for parcel in outlook.spoils)
    terms = [outlook.good, *stale[:here], outlook.coming, *stale[here:]]
    terms = [term for place, term in enumerate(terms) if term or not place]
    if len(terms) > 1:
        told = print_quantity(terms[0], unit)
        for term in terms[1:]:
            told += f" {'+' if term > 0 else MINUS} {print_quantity(abs(term), unit)}"
        yield Step(f"what counts, with what is on the road: {told}", print_quantity(outlook.position, unit))
    if outlook.order_by is None:
        yield Step("no order is in sight")
        return
    if outlook.position > outlook.point and use.a_week:
        weeks = Fraction(outlook.position - outlook.lumps) / use.a_week
        position, lumps = (print_quantity(one, unit) for one in (outlook.position, outlook.lumps))
        yield Step(
            f"weeks until use takes it down to that: ({position} {MINUS} {lumps}) ÷ {print_finely(use.a_week, unit)}",
            print_decimal(int(weeks * 1000), 3, most=3),
        )
    yield Step(f"order by, for {outlook.because}", print_day(outlook.order_by, with_year=True))


def _note_textbook(outlook: Outlook) -> tuple[str, ...]:
    """What the textbook says beside, which takes weeks as spread normally, or items as taken singly."""
    asked, draws = outlook.asked, outlook.use.draws
    if not outlook.use.is_known:
        return ()
    use, leads = compute_use(draws), asked.leads
    mean = use.mean * leads.usual / DAYS_PER_WEEK
    if asked.unit == "items" and mean < _FEW_ITEMS:
        point, how = (
            compute_poisson_point(mean, asked.certainty_pct100),
            "items that are taken singly (Poisson)",
        )
    else:
        spread = max(leads.days) - leads.usual
        point = compute_normal_point(use, leads.usual, spread, asked.certainty_pct100)
        how = "weeks that differ normally (Stevenson, Operations Management)"
    return (
        f"The textbook, for {how} and stock that is seen right at the point, says {print_about(point, asked.unit)}.",
    )


def explain_how_much(outlook: Outlook) -> Working | None:
    """The least, the most and what is proposed; None where nothing is to be ordered."""
    if outlook.order_by is None:
        return None
    asked, unit, use = outlook.asked, outlook.asked.unit, outlook.use
    usual = asked.leads.usual
    a_week = print_finely(use.a_week, unit)
    at_order = min(outlook.position, outlook.point)
    steps = [
        Step("there when you order", print_quantity(at_order, unit)),
        Step(
            f"taken in {usual} days on the road: {a_week} × {usual} ÷ {DAYS_PER_WEEK}",
            print_finely(use.a_week * usual / DAYS_PER_WEEK, unit),
        ),
        Step(
            "at least, so that the point is here again when it comes, rounded up",
            print_quantity(outlook.least, unit),
        ),
    ]
    if asked.usual_parcel:
        what = (
            "so many packs as last until the next order" if asked.whole_parcels else "a parcel that you buy"
        )
        steps.append(Step(what, print_quantity(asked.usual_parcel, unit)))
    if outlook.most is not None and asked.keeps_days:
        used = print_finely(use.a_week * asked.keeps_days / DAYS_PER_WEEK, unit)
        keeps = asked.keeps_days
        steps += [
            Step(f"used in the {keeps} days that it keeps: {a_week} × {keeps} ÷ {DAYS_PER_WEEK}", used),
            Step(
                "at most, less what is still here when it comes, rounded down",
                print_quantity(outlook.most, unit),
            ),
        ]
    steps.append(Step("order", print_about(outlook.amount, unit)))
    whole = (
        "whole packs of the cheapest offer until the least is reached"
        if asked.whole_parcels
        else "whole parcels as you buy them until the least is reached, and no more than is used before it is out of "
        "date"
    )
    return make_working(
        "How much",
        f"{whole}; what a plan lacks in any case",
        *steps,
        notes=() if asked.usual_parcel else ("No parcel of it is known yet: the least is proposed.",),
    )


def explain_lasting(outlook: Outlook, ends: tuple[date | None, date | None]) -> Working:
    """From when to when it may be used up."""
    unit = outlook.asked.unit
    early, late = (print_day(day, with_year=True) if day else "later than in a year" for day in ends)
    last = outlook.last_good_day
    good_until = (
        [Given("the last of it is good until", print_day(last, with_year=True), "your lots")] if last else []
    )
    return make_working(
        "How long it lasts",
        "weeks drawn from those behind until what counts is used up; a plan may use it up sooner, and what is out of "
        "date is not used",
        Given("what counts", print_quantity(outlook.counts, unit), "the stock"),
        *good_until,
        Step(f"used up with {print_percent(EARLY_PCT100)} by", early),
        Step(f"used up with {print_percent(LATE_PCT100)} by", late),
        result=f"{early} to {late}" if early != late else early,
        source=RESAMPLED,
    )
