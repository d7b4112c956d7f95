"""Where a casting day stands by the turns of its kiln: what is due, what a turn now would mean, what was turned."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from inventory.core.day_plan import MomentKind
from inventory.core.replanning import DueTurn, Replanned, Turn
from inventory.core.timetable import DayLine, find_next

from .days import DaySheet

SOON = timedelta(minutes=10)
"""From so long before its time on, a turn is the thing to press."""
_TURNED = (MomentKind.KILN_ON, MomentKind.SET_POINT)


@dataclass(frozen=True)
class DayTurn:
    """One line of the day that is a turn of the kiln. `pour` is where the pour goes if it is turned only now."""

    line: DayLine
    due: DueTurn
    late_minutes: int = 0
    pour: datetime | None = None
    is_soon: bool = True

    @property
    def is_kiln_on(self) -> bool:
        return self.due.place == 0


@dataclass(frozen=True)
class Standing:
    """A casting day as it stands now.

    `press` is the turn that comes next or is waited for, `passed` the last that the clock passed on a day of which
    nobody has written down a turn; both None where none can be written down.
    """

    sheet: DaySheet

    @cached_property
    def lines(self) -> list[tuple[DayLine, DueTurn | None]]:
        """Every line with the turn that it is."""
        turns = iter(self._replanned.turns if self._replanned else ())
        return [(line, next(turns, None) if line.kind in _TURNED else None) for line in self.sheet.lines]

    @property
    def can_turn(self) -> bool:
        return self._replanned is not None and not self.sheet.day.is_fired

    @property
    def is_followed(self) -> bool:
        return self._replanned is not None and self._replanned.is_followed

    @property
    def _replanned(self) -> Replanned | None:
        return self.sheet.replanned

    @cached_property
    def hand_turns(self) -> list[tuple[DayLine, DueTurn]]:
        return [(line, turn) for line, turn in self.lines if turn and line.by_whom == "by hand"]

    @cached_property
    def waited_for(self) -> DayTurn | None:
        """A turn that is past its time on a day that is followed: it is not done before somebody says so."""
        following = self._replanned.following if self.can_turn and self._replanned else None
        if not self.is_followed or following is None or following.at > self.sheet.now:
            return None
        return next((self._tell(line, turn) for line, turn in self.hand_turns if turn is following), None)

    @cached_property
    def around(self) -> tuple[DayLine | None, DayLine | None]:
        """What is going on, and what comes next: a turn that is waited for comes before all that follows it."""
        if self.waited_for is None:
            return find_next(self.sheet.lines, self.sheet.now)
        place = self.sheet.lines.index(self.waited_for.line)
        return (self.sheet.lines[place - 1] if place else None), self.waited_for.line

    @property
    def is_waiting(self) -> bool:
        return self.waited_for is not None

    @cached_property
    def press(self) -> DayTurn | None:
        if self.waited_for or not self.can_turn:
            return self.waited_for
        _, line = self.around
        return next((self._tell(one, turn) for one, turn in self.hand_turns if one is line), None)

    @cached_property
    def passed(self) -> DayTurn | None:
        now, pour = self.sheet.now, self._replanned.pour if self._replanned else None
        if self.is_followed or not self.can_turn or pour is None or pour <= now:
            return None
        gone = [(line, turn) for line, turn in self.hand_turns if turn.at <= now]
        return self._tell(*gone[-1]) if gone else None

    @property
    def last_turn(self) -> tuple[DayLine, DueTurn] | None:
        """The last that was written down: it can be taken back."""
        return next(((line, one) for line, one in reversed(self.hand_turns) if one.turned), None)

    @property
    def open_turns(self) -> Iterator[tuple[DayLine, DueTurn]]:
        """What nobody has written down yet."""
        return ((line, turn) for line, turn in self.hand_turns if not turn.turned)

    def _tell(self, line: DayLine, turn: DueTurn) -> DayTurn:
        sheet, pour = self.sheet, None
        minute = sheet.now.replace(second=0, microsecond=0)
        late = max(0, (minute - turn.at) // timedelta(minutes=1))
        if late and self._replanned:
            then = sheet.go_on((*sheet.day.turned, Turn(turn.place, turn.set_c, minute)))
            pour = then.pour if then.pour != self._replanned.pour else None
        return DayTurn(line, turn, late, pour, turn.at - sheet.now <= SOON)
