"""Two hands on one casting day, its kiln and its firing in the same second, each pair on a day of its own."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from inventory.models import CastingDay, Equipment, Firing, KilnLog, Plan, WearingPart
from inventory.posting.casting_records import assign_firing
from inventory.posting.planning import drop_plan, post_begin
from inventory.posting.turning import end_firing, note_turn
from inventory.posting.wearing import write_replacement
from tests import calendar_reader as calendar
from tests import workshop as w
from tests.inventory import kiln_logs, plans
from tests.inventory.at_once import ANSWERS, Act, at_once, refusable
from tests.support import once, problems

NOW = timezone.now().replace(second=0, microsecond=0)
#: By the schedule of 13 hours the kiln went on five minutes ago.
KILN_ON, POUR = NOW - timedelta(minutes=5), NOW + timedelta(hours=12, minutes=55)


def race_days() -> list[str]:
    """Every pair below; what went wrong."""
    w.make_studio()
    user = User.objects.create_user("Ada")
    plans.stock(fresh="2000", powder="60000", wax="900")
    found = [f"{case.__name__}: {wrong}" for case in CASES for wrong in case(Pair(case.__name__, user))]
    return found + problems()


class Pair:
    """A day with a kiln and a flask of its own, and what two people send to it."""

    def __init__(self, name: str, user: User) -> None:
        self.kiln = Equipment.objects.create(kind="kiln", name=name, rated_w=2400)
        draft = replace(plans.day_draft(POUR), kiln=self.kiln)
        self.plan = plans.plan(title=name, day=draft, flask=plans.flask(name), crucible=None)
        self.user = user

    @property
    def day(self) -> CastingDay:
        return CastingDay.objects.get(pk=self.plan.day_id)

    @property
    def address(self) -> str:
        return f"/days/{self.plan.day_id}"

    def send(self, address: str, make: Callable[[], dict[str, Any]] = dict, **said: Any) -> Act:
        client = Client(SERVER_NAME="127.0.0.1", raise_request_exception=False)
        client.force_login(self.user)
        data = {**once(), **make(), **said}
        return lambda: str(client.post(address, data).status_code)

    def turn(self, place: int = 0, **said: Any) -> Act:
        return self.send(f"{self.address}/turn/", place=place, **said)

    def take_calendar(self) -> bytes:
        client = Client(SERVER_NAME="127.0.0.1")
        client.force_login(self.user)
        return bytes(client.get(f"{self.address}/calendar.ics").content)

    def begin(self) -> Firing:
        note_turn(self.day, 0, 85, KILN_ON, meter_wh=1_000)
        return Firing.objects.get(kiln=self.kiln)


def _differ(found: object, wanted: object) -> Iterator[str]:
    if found != wanted:
        yield f"{found} and not {wanted}"


def kiln_on_twice(pair: Pair) -> Iterator[str]:
    yield from _differ(at_once([pair.turn(meter="7")] * 2), ["302", "302"])
    day = pair.day
    yield from _differ(
        (day.revision, day.turns.count(), Firing.objects.filter(kiln=pair.kiln).count()), (1, 1, 1)
    )


def kiln_on_and_taken_back(pair: Pair) -> Iterator[str]:
    yield from _differ(at_once([pair.turn(meter="7"), pair.turn(back="on")]), ["302", "302"])
    day = pair.day
    is_on = day.turns.exists()
    yield from _differ(
        (day.firing_id is not None, Firing.objects.filter(kiln=pair.kiln).exists()), (is_on, is_on)
    )


def turned_and_moved(pair: Pair) -> Iterator[str]:
    moved = pair.send(f"{pair.address}/move/", quarters=96, revision=0)
    outcomes = at_once([pair.turn(), moved])
    day = pair.day
    is_moved = day.wish_at != POUR
    yield from _differ(outcomes, ["302", "302"] if is_moved else ["302", "422"])
    yield from _differ(day.turns.count(), 1)


def moved_twice(pair: Pair) -> Iterator[str]:
    acts = [pair.send(f"{pair.address}/move/", quarters=quarters, revision=0) for quarters in (96, 192)]
    yield from _differ(at_once(acts), ["302", "422"])
    yield from _differ(pair.day.revision, 1)


def two_days_begin_on_one_kiln(pair: Pair) -> Iterator[str]:
    draft = replace(plans.day_draft(POUR), kiln=pair.kiln)
    other = plans.plan(title="Other", day=draft, flask=plans.flask("Other"), crucible=None).day
    acts = [lambda day=day: note_turn(day, 0, 85, KILN_ON, meter_wh=5) for day in (pair.day, other)]
    yield from _differ(at_once([refusable(act) for act in acts]), ["posted", "refused"])
    yield from _differ(Firing.objects.filter(kiln=pair.kiln, minutes=None).count(), 1)


def ended_twice(pair: Pair) -> Iterator[str]:
    end = f"/firings/{pair.begin().pk}/end/"
    yield from _differ(at_once([pair.send(end, meter="2"), pair.send(end, meter="3")]), ["302", "422"])


def ended_while_a_cast_joins(pair: Pair) -> Iterator[str]:
    firing = pair.begin()
    cast = post_begin(pair.plan)
    acts = [
        lambda: end_firing(firing, NOW, 1_500),
        lambda: assign_firing(cast, Firing.objects.get(pk=firing.pk)),
    ]
    yield from _differ(at_once([refusable(act) for act in acts]), ["posted", "posted"])
    firing = Firing.objects.get(kiln=pair.kiln)
    yield from _differ((firing.minutes, firing.casts.count(), pair.day.firing), (5, 1, firing))


def ended_and_taken_back(pair: Pair) -> Iterator[str]:
    end = f"/firings/{pair.begin().pk}/end/"
    outcomes = at_once([pair.send(end, meter="2"), pair.turn(back="on")])
    is_ended = Firing.objects.filter(kiln=pair.kiln).exists()
    wanted = [["302", "422"]] if is_ended else [["302", "404"], ["302", "422"]]
    if outcomes not in wanted:
        yield f"{outcomes}, ended: {is_ended}"
    yield from _differ(pair.day.turns.exists(), is_ended)


def ended_while_its_form_is_saved(pair: Pair) -> Iterator[str]:
    firing = pair.begin()
    said = {"kiln": pair.kiln.pk, "day": f"{firing.day:%d/%m/%Y}", "meter_before_wh": "1", "note": "wax"}
    acts = [
        pair.send(f"/firings/{firing.pk}/edit/", **said),
        pair.send(f"/firings/{firing.pk}/end/", meter="2"),
    ]
    outcomes = at_once(acts)
    if "302" not in outcomes or not set(outcomes) <= ANSWERS:
        yield f"{outcomes}"
    # By the real clock, which goes on meanwhile.
    yield from _differ(Firing.objects.get(pk=firing.pk).is_running, False)


def two_logs_of_one_firing(pair: Pair) -> Iterator[str]:
    firing = Firing.objects.create(kiln=pair.kiln, day=NOW.date(), minutes=600)
    acts = [pair.send(f"/kiln-logs/{firing.pk}/", lambda: {"file": kiln_logs.file()}) for _ in range(2)]
    yield from _differ(at_once(acts), ["302", "302"])
    yield from _differ((KilnLog.objects.filter(firing=firing).count(), pair.day.revision), (1, 2))


def a_log_and_its_firing_is_taken_out(pair: Pair) -> Iterator[str]:
    firing = Firing.objects.create(kiln=pair.kiln, day=NOW.date(), minutes=600)
    log = pair.send(f"/kiln-logs/{firing.pk}/", lambda: {"file": kiln_logs.file()})
    outcomes = at_once([log, pair.send(f"/firings/{firing.pk}/remove/")])
    if not set(outcomes) <= ANSWERS:
        yield f"{outcomes}"
    yield from _differ(Firing.objects.filter(pk=firing.pk).exists(), False)


def calendar_taken_twice(pair: Pair) -> Iterator[str]:
    files: list[bytes] = []
    outcomes = at_once([lambda: files.append(pair.take_calendar()) or "taken"] * 2)  # type: ignore[func-returns-value]
    yield from _differ(outcomes, ["taken", "taken"])
    events = [calendar.blocks(file, "VEVENT") for file in files]
    yield from _differ(len(events[0]), pair.day.sent_events.count())


def calendar_taken_as_the_day_changes(pair: Pair) -> Iterator[str]:
    """Whatever the file held, the next one cancels what the day has no more."""
    files: list[bytes] = []
    acts: list[Act] = [
        lambda: files.append(pair.take_calendar()) or "done",  # type: ignore[func-returns-value]
        lambda: drop_plan(Plan.objects.get(pk=pair.plan.pk)) or "done",  # type: ignore[func-returns-value]
    ]
    yield from _differ(at_once(acts), ["done", "done"])
    # Where the day was emptied first there was nothing to take.
    took, told = (_name_events(file) if file else set() for file in (files[0], pair.take_calendar()))
    yield from _differ(took - told, set())


def _name_events(file: bytes) -> set[str]:
    return {calendar.values(event, "UID")[0] for event in calendar.blocks(file, "VEVENT")}


def replaced_twice(pair: Pair) -> Iterator[str]:
    part = WearingPart.objects.create(
        name="Seal", counted_by="days", life=120, new_on=NOW.date() - timedelta(9)
    )
    act = refusable(lambda: write_replacement(WearingPart.objects.get(pk=part.pk), NOW.date()))
    yield from _differ(at_once([act, act]), ["posted", "refused"])


CASES = [
    kiln_on_twice,
    kiln_on_and_taken_back,
    turned_and_moved,
    moved_twice,
    two_days_begin_on_one_kiln,
    ended_twice,
    ended_while_a_cast_joins,
    ended_and_taken_back,
    ended_while_its_form_is_saved,
    two_logs_of_one_firing,
    a_log_and_its_firing_is_taken_out,
    calendar_taken_twice,
    calendar_taken_as_the_day_changes,
    replaced_twice,
]
