"""The run sheet: what stands on it, and that its times are those of the page and of the calendar."""

import csv
import io
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import openpyxl
import pytest
import time_machine
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.timezone import localtime
from pypdf import PdfReader

from inventory.models import Alloy, Cast, ChecklistItem, DayPractice, Equipment, Studio
from inventory.posting.casting import CastFacts, Portion, post_charge, post_start
from inventory.posting.planning import drop_plan, note_moment, post_begin, save_plan
from inventory.queries.days import planned_minutes, read_day
from inventory.queries.plan_figures import work_out
from inventory.reports.run_sheet import build_run_sheet
from studio.kit.cautions import CAUTIONS
from studio.kit.documents import Care, NoteLines
from tests import calendar_reader as calendar
from tests import workshop as w
from tests.inventory import plans
from tests.support import plain, text_of

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 10, 20, 9, 0, tzinfo=UTC)
POUR = datetime(2026, 11, 14, 18, 30, tzinfo=UTC)
CLOCKS_GO_BACK = datetime(2026, 10, 25, 10, 30, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")


@pytest.fixture(autouse=True)
def studio(client):
    w.make_studio()
    plans.stock()
    with time_machine.travel(NOW, tick=False):
        client.force_login(User.objects.create_user("Ada"))
        yield


def day_of(at=POUR, **changes):
    return plans.plan(day=plans.day_draft(at), **changes).day


def another_flask(day, **changes):
    draft = plans.draft(
        day=plans.day_draft(day.wish_at),
        **({"title": "Buds", "flask": plans.flask(f"Flask {day.plans.count()}")} | changes),
    )
    return save_plan(work_out(draft, Studio.objects.get()), day=day)


def build(day):
    return build_run_sheet({"casting_day": day.pk})


def table(document, caption):
    return next(one for one in document.tables if caption in one.caption)


@pytest.mark.parametrize("pour", [POUR, CLOCKS_GO_BACK], ids=["an ordinary day", "the clocks go back"])
def test_page_sheet_and_calendar_tell_the_same_times(client, pour):
    day = day_of(pour)
    page = plain(client.get(f"/days/{day.pk}/").content.decode())
    shown = re.findall(r'<time datetime="([^"]+)">(\d\d:\d\d)', page)
    on_paper = [f"{localtime(row[0]):%H:%M}" for row in table(build(day), "Timetable").rows]
    assert [clock for _, clock in shown] == on_paper
    file = client.get(f"/days/{day.pk}/calendar.ics").content
    starts = {
        datetime.strptime(calendar.values(event, "DTSTART")[0], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        for event in calendar.blocks(file, "VEVENT")
    }
    # Vacuum and filling stand within the event of the mixing: nobody reads a calendar with a bowl in the hands.
    assert len(starts) == len(shown) - 3
    moments = {datetime.fromisoformat(moment): clock for moment, clock in shown}
    assert {moments[start] for start in starts} == {f"{start.astimezone(LONDON):%H:%M}" for start in starts}


def silver_and_bronze(at=POUR):
    """One firing with a flask of sterling and one of bronze, each with its own heat."""
    Alloy.objects.filter(pk=w.sterling().pk).update(
        solidus_c=802, liquidus_c=893, pour_least_c=943, pour_most_c=993, flask_least_c=400, flask_most_c=675
    )
    bronze = w.bronze()
    Alloy.objects.filter(pk=bronze.pk).update(
        solidus_c=831,
        liquidus_c=999,
        pour_least_c=1_049,
        pour_most_c=1_099,
        flask_least_c=430,
        flask_most_c=590,
    )
    for alloy, parts in ((w.sterling(), {"Ag": 9250, "Cu": 750}), (bronze, {"Cu": 8900, "Sn": 1100})):
        for element, share in parts.items():
            alloy.parts.get_or_create(element=element, defaults={"per_10000": share})
    w.buy(w.grain(bronze), w.g(400), 12)
    day = day_of(at, alloy=Alloy.objects.get(pk=w.sterling().pk))
    another_flask(day, title="Hooks", alloy=Alloy.objects.get(pk=bronze.pk))
    return day


def test_silver_and_bronze_in_one_firing_have_each_their_own_lines_everywhere(client):
    day = silver_and_bronze()
    page = plain(client.get(f"/days/{day.pk}/").content.decode())
    paper = [plain(row[2]) for row in table(build(day), "Timetable").rows]
    events = calendar.blocks(client.get(f"/days/{day.pk}/calendar.ics").content, "VEVENT")
    phone = [plain(calendar.unescape(calendar.values(event, "SUMMARY")[0])) for event in events]
    for alloy in ("Sterling", "Bronze"):
        for words in (f"{alloy} into the crucible", f"Pour the {alloy}", f"Quench the {alloy}"):
            (line,) = [one for one in paper if one.startswith(words)]
            assert line in page
            assert any(line in summary for summary in phone)
    assert "Pour the Bronze: metal at 1,049 to 1,099 °C, flask at 430 to 590 °C." in paper
    names = [calendar.values(event, "UID")[0] for event in events]
    assert len(set(names)) == len(names)
    told = "The kiln ends at 600 °C, and Bronze asks for a flask at 430 to 590 °C."
    assert told in page
    assert any(told in plain(getattr(block, "text", "")) for block in build(day).blocks)
    assert "Metal at the pour: 943 to 993 °C." in plain(table(build(day), "Fern leaves, Sterling").note)


def moments_of(client, day):
    """Every line of the day with its moment on the page, on paper and in the calendar, to the minute."""
    page = text_of(client.get(f"/days/{day.pk}/"))
    shown = re.findall(r'<time datetime="([^"]+)">[^<]*</time> <span class="what">([^<]+)</span>', page)
    on_page = {(datetime.fromisoformat(at), unescape(told)) for at, told in shown}
    on_paper = {(row[0], plain(row[2])) for row in table(build(day), "Timetable").rows}
    file = client.get(f"/days/{day.pk}/calendar.ics").content
    in_calendar = set()
    for event in calendar.blocks(file, "VEVENT"):
        at = datetime.strptime(calendar.values(event, "DTSTART")[0], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        summary = plain(calendar.unescape(calendar.values(event, "SUMMARY")[0]))
        told = summary.removesuffix(f" {plain(read_day(day.pk).title)}")
        in_calendar.add((at, told))
    return on_page, on_paper, in_calendar


def test_silver_and_bronze_have_two_melts_and_two_pours_in_turn_on_page_paper_and_calendar(client):
    day = silver_and_bronze()
    on_page, on_paper, in_calendar = moments_of(client, day)
    assert on_page == on_paper
    # Vacuum and filling stand within the event of the mixing.
    assert in_calendar < on_page and len(on_page) - len(in_calendar) == 3
    at = {told.split(",")[0].split(":")[0]: moment for moment, told in in_calendar}
    # 6 min after the silver's pour the bronze goes in: a minute to pour it, and five for another crucible.
    order = [
        at["Sterling into the crucible"],
        at["The Sterling has melted"],
        at["Flask of the Sterling out of the kiln"],
        at["Pour the Sterling"],
        at["Bronze into the crucible"],
        at["The Bronze has melted"],
        at["Flask of the Bronze out of the kiln"],
        at["Pour the Bronze"],
    ]
    assert order == sorted(order)
    assert at["Pour the Sterling"] == POUR
    assert at["Pour the Bronze"] - POUR == timedelta(minutes=1 + 5 + 20)
    for alloy in ("Sterling", "Bronze"):
        assert at[f"Quench the {alloy}"] - at[f"Pour the {alloy}"] >= timedelta(minutes=15)
    # Each plan says its own pour, and the kiln is planned to be on until the last flask is out.
    silver, bronze = day.plans.order_by("pk")
    assert "18:30" in plain(client.get(f"/plans/{silver.pk}/").content.decode())
    assert "<dt>Pour</dt><dd>Sat 14 Nov, 18:56</dd>" in plain(
        client.get(f"/plans/{bronze.pk}/").content.decode()
    )
    assert planned_minutes(day) == 13 * 60 + 25


def test_the_queue_melts_by_the_power_of_the_studios_own_melter(client):
    day = silver_and_bronze()
    melter = Equipment.objects.create(kind="machine", name="Melter", rated_w=1_000)
    day.plans.update(machine=melter)
    # 66.48 g of bronze take some 41 kJ: at 200 W, our guess of a fifth of the plate, 5 min: poured after 1 + 5 + 5 + 1.
    assert pour_minutes(day) == [0, 12]
    told = [sequence_of(client, day)]
    lot = w.buy(w.grain(), w.g(100), 300)
    for _ in range(3):
        cast = post_start(CastFacts("leaves", w.DAY, w.sterling(), machine=melter))
        post_charge(cast, [Portion(lot, 20_000)], w.DAY)
        Cast.objects.filter(pk=cast.pk).update(poured=True)
        note_moment(cast, "metal", at=NOW)
        note_moment(cast, "poured", at=NOW + timedelta(minutes=10))
    origin = read_day(day.pk).pours[0].melt.origin
    assert origin == "3 melts of your own"
    assert pour_minutes(day)[1] > 12
    # Nobody changed the day, and its times are others: a calendar takes them in, once.
    told += [sequence_of(client, day) for _ in range(2)]
    Equipment.objects.filter(pk=melter.pk).update(rated_w=3_000)
    assert [*told, sequence_of(client, day)] == [1, 2, 2, 2]


def sequence_of(client, day):
    (event, *_) = calendar.blocks(client.get(f"/days/{day.pk}/calendar.ics").content, "VEVENT")
    return int(calendar.values(event, "SEQUENCE")[0])


def test_several_bowls_in_turn_are_mixed_at_the_same_minute_on_page_paper_and_calendar(client):
    """The bowl of the studio takes 300 g of powder: each flask wants more."""
    day = silver_and_bronze()
    DayPractice.objects.update_or_create(pk=1, defaults={"bowl_powder_mg": 300_000})
    on_page, on_paper, in_calendar = moments_of(client, day)
    assert on_page == on_paper
    mixes = sorted((at, told) for at, told in on_paper if told.startswith("Mix "))
    assert len(mixes) >= 4
    begun = [(at, told) for at, told in mixes if "vacuum" not in told and "pour" not in told]
    # A calendar has one event for each bowl, with all that is done with it.
    in_events = sorted(at for at, told in in_calendar if told.startswith("Mix "))
    assert in_events == [at for at, _ in begun]
    assert all(told.startswith(f"Mix {number} of {len(begun)}") for number, (_, told) in enumerate(begun, 1))
    assert sum(len(bowl.bowls.mixes) for bowl in read_day(day.pk).bowls) == len(begun)


def pour_minutes(day):
    pours = [one.at for one in read_day(day.pk).timetable.moments if one.kind == "pour"]
    return [(at - POUR) // timedelta(minutes=1) for at in pours]


def test_a_plan_shows_how_hot_its_metal_and_flask_are_to_be(client):
    plan = silver_and_bronze().plans.first()
    page = plain(client.get(f"/plans/{plan.pk}/").content.decode())
    assert "943 to 993 °C" in page and "400 to 675 °C" in page
    cast = post_begin(plan)
    page = plain(client.get(f"/casts/{cast.number}/pour/").content.decode())
    assert "Sterling: 943 to 993 °C." in page and "Sterling: 400 to 675 °C." in page


def test_a_calendar_takes_in_that_a_flask_was_added_given_up_or_is_poured_hotter(client):
    def sequence():
        return sequence_of(client, day)

    day = day_of()
    told = [sequence()]
    buds = another_flask(day)
    told.append(sequence())
    drop_plan(buds)
    told.append(sequence())
    form = {
        "name": "Sterling",
        "metal": "silver",
        "fineness": "925",
        "density_mg_cm3": "10.36",
        "pour_most_c": "990",
    }
    lines = {"parts-TOTAL_FORMS": "0", "parts-INITIAL_FORMS": "0"}
    assert client.post(f"/setup/alloys/{w.sterling().pk}/", form | lines).status_code == 302
    told.append(sequence())
    # Another crucible may ask for another order of the pours.
    plan = day.plans.order_by("pk").first()
    other = plans.draft(day=plans.day_draft(day.wish_at), crucible=None)
    save_plan(work_out(other, Studio.objects.get(), plan), plan=plan)
    told.append(sequence())
    assert told == [0, 1, 2, 3, 4]


def test_the_charge_of_each_flask_is_weighed_out_by_lot_and_adds_up():
    day = day_of()
    another_flask(day)
    charges = [one for one in build(day).tables if one.caption.endswith(", Sterling")]
    assert [one.caption.split(": ")[1] for one in charges] == ["Fern leaves, Sterling", "Buds, Sterling"]
    for charge in charges:
        assert sum(row[1] for row in charge.rows) == charge.totals[1] == 66_480
        assert charge.columns[2].kind == "blank"
        assert all(row[2] is None for row in charge.rows)


def test_a_lot_that_was_used_elsewhere_meanwhile_is_told_apart():
    day = day_of()
    lot = day.plans.get().portions.get(use="metal").lot
    w.cast_metal([(lot, 180)], [w.piece("Pod", 100)], back=79)
    assert table(build(day), "Fern leaves").rows[0][0].endswith(", of which so much is not there any more")


def test_metal_that_is_not_here_yet_is_said():
    day = day_of()
    plan = day.plans.get()
    plan.portions.filter(use="metal").update(quantity=40_000)
    rows = table(build(day), "Fern leaves").rows
    assert rows[-1][:2] == ("Sterling, not in stock yet", 26_480)


def test_one_bowl_of_powder_and_water_adds_up_over_the_flasks():
    day = day_of()
    first = day.plans.get()
    another_flask(day)
    bowl = table(build(day), "one bowl")
    *powder, water = [row[1] for row in bowl.rows]
    assert sum(powder) == 2 * first.powder_mg
    assert water == 2 * first.water_mg
    assert "Powder for each flask:" in bowl.note


def test_powder_that_is_short_is_said():
    day = day_of()
    day.plans.get().portions.filter(use="powder").update(quantity=400_000)
    rows = table(build(day), "one bowl").rows
    assert rows[1][0] == "Investment powder, not in stock yet"
    assert rows[0][1] + rows[1][1] == day.plans.get().powder_mg


def test_the_timetable_has_a_box_for_each_line_and_set_points():
    timetable = table(build(day_of()), "Timetable")
    assert [column.kind for column in timetable.columns] == ["moment", "box", "text", "celsius", "text"]
    assert 750 in [row[3] for row in timetable.rows]
    assert "by hand, at night" in [row[4] for row in timetable.rows]


def test_there_is_room_for_what_is_read_and_weighed_a_line_for_each_flask():
    DayPractice.objects.create(pk=1, altitude_m=500)
    day = day_of()
    another_flask(day)
    document = build(day)
    read, weighed = table(document, "Read at the pour"), table(document, "Weighed after it")
    assert [row[0] for row in read.rows] == [row[0] for row in weighed.rows] == ["Fern leaves", "Buds"]
    assert {one.kind for one in (*read.columns[1:], *weighed.columns[1:])} == {"blank"}
    # 95.461 kPa by the ICAO standard atmosphere are 28.2 inHg; computed.
    assert plain(read.note) == "Here a gauge shows 28.2 inHg at most."


def test_cautions_stand_where_they_belong_and_there_is_room_for_notes():
    document = build(day_of())
    places = {
        block.kind if isinstance(block, Care) else getattr(block, "caption", type(block).__name__): place
        for place, block in enumerate(document.blocks)
    }
    bowl = next(place for name, place in places.items() if "one bowl" in name)
    assert places["powder"] < bowl < places["burnout"] < places["Timetable"]
    assert places["Timetable"] < places["pour"] < places["flux"] < places["quench"] < places["NoteLines"]
    assert isinstance(document.blocks[-1], NoteLines)


def test_the_list_before_the_pour_has_a_box_for_each_flask_it_applies_to():
    ChecklistItem.objects.create(text="Face shield on", place=0)
    ChecklistItem.objects.create(text="No flux", when="graphite", place=1)
    ChecklistItem.objects.create(text="Gauge over 27 inHg", when="pump", place=2)
    day = day_of()
    another_flask(day, crucible=None)
    checks = table(build(day), "Before the pour")
    assert [column.label for column in checks.columns] == ["What", "Fern leaves", "Buds"]
    assert checks.rows == [("Face shield on", None, None), ("No flux", None, "–")]


def test_many_flasks_share_one_box_for_each_line():
    ChecklistItem.objects.create(text="Face shield on")
    day = day_of()
    for number in range(7):
        another_flask(day, title=f"Buds {number}")
    assert len(table(build(day), "Before the pour").columns) == 2


def test_an_empty_list_is_said():
    assert any("still empty" in getattr(block, "text", "") for block in build(day_of()).blocks)


def test_a_plan_that_was_given_up_is_not_on_the_sheet():
    day = day_of()
    drop_plan(another_flask(day))
    assert "Buds" not in build(day).subtitle


def test_it_is_read_on_the_page_and_taken_away_in_every_form(client):
    day = day_of()
    page = plain(client.get(f"/reports/run-sheet/?casting_day={day.pk}").content.decode())
    assert "Pour at" in page
    assert "Silica dust" in page
    assert f"/reports/run-sheet.pdf?casting_day={day.pk}" in page
    rows = list(csv.reader(io.StringIO(taken(client, day, "csv").decode("utf-8-sig"))))
    timetable = rows[rows.index(["When", "Done", "What", "Set to (°C)", "Who"]) + 1 :]
    assert datetime.fromisoformat(timetable[0][0]) <= datetime.fromisoformat(timetable[1][0])
    sheets = openpyxl.load_workbook(io.BytesIO(taken(client, day, "xlsx"))).sheetnames
    assert "Timetable" in sheets


def taken(client, day, ending):
    answer = client.get(f"/reports/run-sheet.{ending}?casting_day={day.pk}")
    assert answer.status_code == 200
    return answer.content


def test_more_powder_than_a_bowl_takes_stands_with_the_bowl():
    DayPractice.objects.create(pk=1, bowl_powder_mg=300_000)
    note = plain(table(build(day_of()), "3 bowls in turn").note)
    assert "is more than one bowl takes, 300.00 g: mix 3 bowls in turn." in note


@pytest.mark.parametrize(("flasks", "lines", "sheets"), [(1, 6, 1), (2, 6, 2), (1, 40, 3), (2, 60, 4)])
def test_on_paper_one_flask_takes_one_sheet_and_two_take_two_where_they_fit(client, flasks, lines, sheets):
    for number in range(lines):
        ChecklistItem.objects.create(text=f"Line {number} of the list", place=number)
    day = day_of()
    for _ in range(flasks - 1):
        another_flask(day)
    paper = PdfReader(io.BytesIO(taken(client, day, "pdf")))
    assert len(paper.pages) == sheets
    sizes = set()
    text = plain(
        "".join(
            sheet.extract_text(
                visitor_text=lambda text, _cm, _tm, _font, size: sizes.add(size * bool(text.strip()))
            )
            for sheet in paper.pages
        )
    )
    assert min(sizes - {0}) >= 8
    said = {care.kind for care in build(day).blocks if isinstance(care, Care)}
    for words in ("Sat 14 Nov, 18:30", *(CAUTIONS[kind].title for kind in said), "Read at the pour", "Notes"):
        assert words in text.replace("\n", " ")
    assert text.count("Line ") == lines
    assert "Never put flux in a graphite crucible" in text


def test_the_same_day_gives_the_same_paper(client):
    day = day_of()
    assert taken(client, day, "pdf") == taken(client, day, "pdf")


def test_the_terminal_writes_it_too(tmp_path):
    target = tmp_path / "sheet.pdf"
    call_command("report", "run-sheet", "--casting-day", str(day_of().pk), "-o", str(target))
    assert target.read_bytes().startswith(b"%PDF")
    with pytest.raises(CommandError, match="There is no casting day 99"):
        call_command("report", "run-sheet", "--casting-day", "99", "-o", str(target))


def test_left_empty_it_is_the_next_day_and_after_all_of_them_the_latest(client):
    later, sooner = day_of(POUR), day_of(POUR - timedelta(days=7))
    assert f"Casting day {sooner.pk};" in client.get("/reports/run-sheet/").content.decode()
    with time_machine.travel(POUR + timedelta(days=30), tick=False):
        client.force_login(User.objects.get())
        assert f"Casting day {later.pk};" in client.get("/reports/run-sheet/").content.decode()


def test_without_any_day_the_page_says_so_and_blames_nobody(client):
    page = client.get("/reports/run-sheet/", {"casting_day": ""}).content.decode()
    assert 'class="errors"' not in page and "planned" in page
    assert client.get("/reports/run-sheet.pdf", {"casting_day": ""}).status_code == 302


@pytest.mark.parametrize("asked", ["99", "0", "first", str(10**25)])
def test_what_cannot_be_asked_is_said_beside_the_field(client, asked):
    answer = client.get("/reports/run-sheet/", {"casting_day": asked})
    assert answer.status_code == 200
    assert 'class="errors"' in answer.content.decode()
    assert client.get("/reports/run-sheet.pdf", {"casting_day": asked}).status_code == 302


def test_a_day_without_hours_or_flasks_is_said(client):
    day = day_of()
    day.schedule.steps.all().delete()
    assert "has no hours yet" in client.get(f"/reports/run-sheet/?casting_day={day.pk}").content.decode()
    drop_plan(day.plans.get())
    assert "No flask is planned" in client.get(f"/reports/run-sheet/?casting_day={day.pk}").content.decode()


def test_what_a_person_wrote_is_only_ever_text(client):
    DayPractice.objects.create(pk=1)
    day = day_of(title="<b>leaves</b> & =1+1")
    assert "&lt;b&gt;leaves" in client.get(f"/reports/run-sheet/?casting_day={day.pk}").content.decode()
    assert taken(client, day, "pdf").startswith(b"%PDF")


@pytest.mark.counts
def test_more_flasks_ask_the_database_no_more(client):
    day = day_of()

    def count():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(f"/reports/run-sheet/?casting_day={day.pk}").status_code == 200
        return len(asked)

    few = count()
    for _ in range(3):
        another_flask(day)
    assert count() == few
