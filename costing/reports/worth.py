"""The card of whether a day was worth it: its sentences, and the table behind them."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from costing.core.worth import LEAST_GOOD, DayFigures, lacks_time, middle_of, say_verdict
from costing.queries.worth import Worth
from inventory.core.evidence import Sure
from inventory.models import Studio
from inventory.queries.evidence import LikelyCause
from studio.kit.documents import Column, Filled, Table, fill_table, show_kind
from studio.kit.printing import NOTHING, print_money, print_seconds, print_weighed
from studio.kit.scale import round_weights
from studio.kit.units import round_half_up
from studio.kit.working import Working

from .plan_fact import say_more

MOST_CAUSES = 3
_TELLING = (Sure.CLEAR, Sure.MAYBE)
_SETS_NOTHING_APART = (Sure.NO_MORE, Sure.FEWER)

#: Label, kind, and the figure itself.
_ROWS: tuple[tuple[str, str, Callable[[DayFigures], int | Fraction | None]], ...] = (
    ("Metal charged", "mass", lambda one: one.charge_mg),
    ("Kept", "percent", lambda one: one.kept_pct100),
    ("Back as metal", "percent", lambda one: one.back_pct100),
    ("Lost", "percent", lambda one: one.lost_pct100),
    ("At the bench", "minutes", lambda one: one.seconds // 60 or None),
    ("Money in", "money", lambda one: one.total_micro),
    ("A gram kept, besides its metal", "money", lambda one: one.besides_per_g),
)


@dataclass(frozen=True)
class WorthCard:
    """What the card says, line by line."""

    worth: Worth
    studio: Studio

    @property
    def verdict(self) -> str:
        return say_verdict(self.worth.own, self.worth.failed, self.worth.beside)

    @property
    def came(self) -> str:
        """ "85.20 g of metal, 2 h 10 min and 74.10 went in; 41.00 g was kept, 43.50 g came back, 0.70 g was lost." """
        own = self.worth.own
        kept, back, lost = (
            print_weighed(part) for part in round_weights([own.kept_mg, own.back_mg, own.lost_mg])
        )
        time = print_seconds(own.seconds) if own.seconds else "no time written down"
        return (
            f"{print_weighed(own.charge_mg)} of metal, {time} and {print_money(own.total_micro)} went in; "
            f"{kept} was kept, {back} came back, {lost} was lost."
        )

    @property
    def against(self) -> str:
        """Beside the plan, and beside good casts."""
        said = []
        planned, beside, good = self.worth.planned, self.worth.beside, len(self.worth.good)
        if planned is not None:
            more = self.worth.own.total_micro - planned.total_micro
            apart = say_more(more) if more else "as planned"
            if lacks_time(self.worth.own, [planned]):
                apart += ", its time at the bench not counted"
            said.append(f"It was planned to cost {print_money(planned.total_micro)}: {apart}.")
        if beside is not None:
            said.append(
                f"A gram kept took {print_money(beside.own_micro)} besides its metal; in the middle of the {good} "
                f"good casts of its kind before it, {print_money(beside.good_micro)}."
            )
        elif lacks_time(self.worth.own, self.worth.good):
            said.append(
                "No time at the bench is written down yet: with it, this is held against your good casts."
            )
        elif good < LEAST_GOOD:
            said.append("Too few good casts of its kind came before it to hold it against.")
        return " ".join(said)

    @property
    def noted(self) -> str:
        note = self.worth.cast.pour_note
        return f"Noted at the pour: {note}." if note and (self.worth.failed or self.shown) else ""

    @cached_property
    def shown(self) -> list[LikelyCause]:
        """What in its record goes with failed casts, the likeliest first; of a good cast only what tells."""
        return [
            cause
            for cause in self.worth.causes
            if cause.finding.sure in _TELLING
            or (self.worth.failed and cause.finding.sure not in _SETS_NOTHING_APART)
        ][:MOST_CAUSES]

    @property
    def causes(self) -> list[str]:
        return [f"{cause.words}; {self._say_sure(cause.finding.sure)}." for cause in self.shown]

    def _say_sure(self, sure: Sure) -> str:
        if sure is not Sure.TOO_FEW:
            return sure.value
        count = len(self.worth.evidence.casts)
        return f"your {count} casts are too few to tell whether that goes with failed ones"

    @property
    def causes_lead(self) -> str:
        if self.shown:
            if self.shown[0].finding.sure is Sure.TOO_FEW:
                return "In its record"
            return "Likeliest in its record" if self.worth.failed else "It came out, but in its record"
        if self.worth.failed:
            return f"Nothing in its record stands out. {self.worth.evidence.too_few}".strip()
        return "Nothing failed, and its record has nothing that goes with failed casts."

    @property
    def change(self) -> str:
        """One thing to change next time; "" where there is no reason to."""
        if self.shown:
            return self.shown[0].factor.advice
        if self.worth.failed and self.worth.unread:
            unread = self.worth.unread
            return f"Write down {', '.join(unread)} at the pour: without that nothing can be told."
        return ""

    @property
    def line(self) -> str:
        """All of it on one line, for the first page."""
        return f"{self.verdict} {self.came}"

    @property
    def table(self) -> Table:
        good, planned = self.worth.good, self.worth.planned
        sides: list[
            tuple[str, str, Callable[[Callable[[DayFigures], int | Fraction | None]], int | None]]
        ] = [("own", "This cast", lambda figure: _rounded(figure(self.worth.own)))]
        if planned is not None:
            sides.append(("planned", "Planned", lambda figure: _rounded(figure(planned))))
        sides.append(("good", "Good casts", lambda figure: middle_of(good, figure)))
        return fill_table(
            "Side by side",
            [
                Filled(Column("what", "What", on_phone=True), [label for label, _, _ in _ROWS]),
                *(
                    Filled(
                        # A phone has room for two: what was planned opens below each row.
                        Column(key, label, "count", on_phone=key != "planned"),
                        [_show(kind, read(figure)) for _, kind, figure in _ROWS],
                    )
                    for key, label, read in sides
                ),
            ],
            "Of good casts the middle: half of the last ones of its kind before it had less, half had more. Money in "
            "is what the cast cost, with the metal that came back taken off.",
        )

    @property
    def workings(self) -> list[Working]:
        beside = [self.worth.beside.working] if self.worth.beside else []
        return beside + [
            replace(working, title=f"{cause.factor.name}: {working.title[:1].lower()}{working.title[1:]}")
            for cause in self.shown
            for working in cause.finding.workings
        ]


def _rounded(value: int | Fraction | None) -> int | None:
    return None if value is None else round_half_up(value)


def _show(kind: str, value: int | None) -> str:
    return NOTHING if value is None else show_kind(kind, value)
