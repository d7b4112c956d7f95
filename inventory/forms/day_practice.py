"""How the studio does a casting day: what plans and timetables start from; and which day a run sheet is for."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils import timezone

from inventory.core.day_plan import (
    CHANGE_MOST,
    COOLING_MOST,
    CRUCIBLE_MOST_C,
    LEAD_MOST,
    OUT_MOST,
    QUENCH_MOST,
    STANDING_MOST,
    STEP_LEAST_C,
    STEP_MOST_C,
    TABLE_MOST,
)
from inventory.core.investing import WORKING_SECONDS_MOST, WorkingSplit, check_split
from inventory.core.pour_queue import COOLING_MINUTES
from inventory.core.schedule import CLIMB_C_PER_HOUR, FALL_C_PER_HOUR
from inventory.core.schedule_check import C_PER_HOUR_MOST
from inventory.core.slow_pour import CARRY_MOST_S, RATE_MOST_TENTHS
from inventory.core.vacuum import ALTITUDE_MOST_M
from inventory.models import DayPractice
from inventory.queries.days import latest_day, next_day, read_day
from studio.kit.fields import (
    NUMBER_MAX,
    CelsiusField,
    CoolingField,
    HeatingField,
    LengthField,
    MassField,
    MinutesField,
    NumberField,
    PercentField,
    SecondsField,
)
from studio.kit.forms import StudioModelForm
from studio.kit.reporting import ReportForm
from studio.kit.units import MG_PER_KG, UM_PER_MM

BUTTON_MOST_MG = 10 * MG_PER_KG
PORTION_MOST_MG = 100_000
BOWL_MOST_MG = 100 * MG_PER_KG
CLEARANCE_MOST_UM = 100 * UM_PER_MM
ROOM_MOST_C = 50
ALARM_MOST_MINUTES = 180
SPLIT_FIELDS = ("mix_s", "vacuum_bowl_s", "fill_s", "vacuum_flask_s")

GROUPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "Metal and its button",
        "The button feeds the castings while they set. It is planned on top of what the tree asks for.",
        ("button_pct100", "button_least_mg", "smallest_portion_mg"),
    ),
    (
        "Tree, flask and powder",
        "How far the tree stays from the flask, and how much more is mixed than the flask holds.",
        ("wall_clearance_um", "top_clearance_um", "over_mix_pct100", "bowl_powder_mg"),
    ),
    (
        "Within the working time",
        "From the powder going into the water. Write 4 min, 3 min 30 s or 45 s; 0 for what you leave out.",
        SPLIT_FIELDS,
    ),
    (
        "Kiln",
        "What a timetable counts with before the kiln goes on and while it is turned by hand.",
        ("standing_minutes", "room_c", "climb_c_per_hour", "fall_c_per_hour", "largest_step_c"),
    ),
    (
        "Pour and after",
        "Flasks of one firing are melted and poured in turn: with one melter, one vacuum table and one pair of hands.",
        (
            "lead_minutes",
            "crucible_c",
            "quench_minutes",
            "out_minutes",
            "table_minutes",
            "change_minutes",
            "cooling_minutes",
        ),
    ),
    (
        "The way to the mould, and the air",
        "What the metal loses on its way is added to what the melter is set to. How deep a vacuum can be depends on "
        "how high you work.",
        ("fall_tenths_c_s", "carry_s", "altitude_m"),
    ),
    (
        "Night and alarms",
        "A timetable says when work falls into your night; a calendar reminds you before each thing to do.",
        ("night_from", "night_to", "alarm_before_minutes"),
    ),
)


class ClockField(forms.TimeField):
    """A time on the clock, to the minute."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
        super().__init__(widget=widget, input_formats=["%H:%M", "%H:%M:%S"], **kwargs)


class DayPracticeForm(StudioModelForm):
    button_pct100 = PercentField(
        label="Button, of the pieces and sprues", help_text="Common practice: about a tenth."
    )
    button_least_mg = MassField(
        label="Button at least", maximum=BUTTON_MOST_MG, help_text="However small the tree is."
    )
    smallest_portion_mg = MassField(
        label="Smallest portion worth weighing",
        minimum=1,
        maximum=PORTION_MOST_MG,
        help_text="A charge is not proposed in portions below this.",
    )
    wall_clearance_um = LengthField(label="From the tree to the wall, at least", maximum=CLEARANCE_MOST_UM)
    top_clearance_um = LengthField(
        label="Above the tree, at least", maximum=CLEARANCE_MOST_UM, help_text="The metal comes down on it."
    )
    over_mix_pct100 = PercentField(label="Mixed over", help_text="What stays in the bowl. Common: a tenth.")
    bowl_powder_mg = MassField(
        label="Powder in one bowl, at most",
        minimum=1,
        maximum=BOWL_MOST_MG,
        help_text="What your bowl takes with room to rise, and what you can mix and pour before it sets. The 2 kg it "
        "begins with is a guess of ours.",
    )
    mix_s = SecondsField(label="Mixing", maximum=WORKING_SECONDS_MOST)
    vacuum_bowl_s = SecondsField(label="Vacuum on the bowl", maximum=WORKING_SECONDS_MOST)
    fill_s = SecondsField(label="Pouring into the flask", maximum=WORKING_SECONDS_MOST)
    vacuum_flask_s = SecondsField(label="Vacuum on the flask", maximum=WORKING_SECONDS_MOST)
    standing_minutes = MinutesField(
        label="The flask stands before the kiln",
        maximum=STANDING_MOST,
        help_text="Common practice: 1 h 30 min to 2 h.",
    )
    room_c = CelsiusField(label="The kiln before it goes on", maximum=ROOM_MOST_C)
    climb_c_per_hour = HeatingField(
        label="At full heat it climbs",
        required=False,
        minimum=1,
        maximum=C_PER_HOUR_MOST,
        help_text="For a step that is as fast as the kiln can: time it once. A kiln with logs goes by them. "
        f"Left empty, {CLIMB_C_PER_HOUR}\u00a0°C an hour is guessed.",
    )
    fall_c_per_hour = HeatingField(
        label="Shut off, it falls",
        required=False,
        minimum=1,
        maximum=C_PER_HOUR_MOST,
        help_text=f"From the top to the pour, its door shut. Left empty, {FALL_C_PER_HOUR}\u00a0°C an hour is guessed.",
    )
    largest_step_c = CelsiusField(
        label="Largest step by hand",
        minimum=STEP_LEAST_C,
        maximum=STEP_MOST_C,
        help_text="How far a kiln without a program is turned up at a time. Small steps are gentler on the mould; what "
        "it begins with is a guess of ours.",
    )
    lead_minutes = MinutesField(
        label="Metal goes in before the pour by",
        maximum=LEAD_MOST,
        help_text="As long as your charge takes to melt.",
    )
    crucible_c = CelsiusField(
        label="Or when the kiln passes",
        required=False,
        maximum=CRUCIBLE_MOST_C,
        help_text="While it cools to the pour, if you go by the kiln. Left empty, the minutes count; so they do where "
        "the kiln passes it more than an hour before the pour.",
    )
    quench_minutes = MinutesField(
        label="Quench after the pour, at the earliest",
        maximum=QUENCH_MOST,
        help_text="The button has lost its red by then.",
    )
    out_minutes = MinutesField(
        label="A flask leaves the kiln before its pour by",
        maximum=OUT_MOST,
        help_text="The shorter, the less it cools. Counted where several are poured in turn.",
    )
    table_minutes = MinutesField(
        label="Vacuum goes on after the pour for",
        maximum=TABLE_MOST,
        help_text="Until the next flask may stand on the table.",
    )
    change_minutes = MinutesField(
        label="Another crucible takes",
        maximum=CHANGE_MOST,
        help_text="From one metal to the next, with the melter hot.",
    )
    cooling_minutes = MinutesField(
        label="Out of the kiln, time of cooling of a flask",
        required=False,
        minimum=1,
        maximum=COOLING_MOST,
        help_text="Newton's: after so long, 37 % of what it is hotter than the room is left. Left empty, "
        f"{COOLING_MINUTES}\u00a0min is guessed.",
    )
    fall_tenths_c_s = CoolingField(
        label="Out of the melter, the metal cools by",
        required=False,
        minimum=1,
        maximum=RATE_MOST_TENTHS,
        help_text="In degrees a second: look at a thermometer once, over ten seconds. Left empty, nothing is added.",
    )
    carry_s = SecondsField(
        label="From crucible to mould you take",
        required=False,
        minimum=1,
        maximum=CARRY_MOST_S,
    )
    altitude_m = NumberField(
        "You work above the sea by, in metres",
        0,
        ALTITUDE_MOST_M,
        "A vacuum is told as a share of what the air there allows. Left empty, it is told as it was read.",
        required=False,
    )
    night_from = ClockField(label="Night begins")
    night_to = ClockField(label="Night ends", help_text="Alike with the beginning: there is no night.")
    alarm_before_minutes = MinutesField(label="Reminded before", maximum=ALARM_MOST_MINUTES)

    class Meta:
        model = DayPractice
        fields = [name for _, _, names in GROUPS for name in names]

    def groups(self) -> Iterator[tuple[str, str, list[BoundField]]]:
        """The fields as the page shows them: a heading, a sentence, its fields."""
        for title, words, names in GROUPS:
            yield title, words, [self[name] for name in names]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if all(cleaned.get(name) is not None for name in SPLIT_FIELDS):
            for sentence in check_split(WorkingSplit(*(cleaned[name] for name in SPLIT_FIELDS))):
                self.add_error("mix_s", sentence)
        return cleaned


class RunSheetForm(ReportForm):
    """One casting day; the next when none is named, or else the latest. Cleans to its number."""

    casting_day = forms.IntegerField(
        label="Casting day",
        required=False,
        min_value=1,
        max_value=NUMBER_MAX,
        help_text="Its number. Left empty: the next casting day.",
    )

    def clean_casting_day(self) -> int:
        number = self.cleaned_data["casting_day"]
        if number is None:
            day = next_day(timezone.now()) or latest_day()
            if day is None:
                raise ValidationError("No casting day is planned yet. Plan a cast first.")
            number = day.pk
        sheet = read_day(number)
        if sheet is None:
            raise ValidationError(f"There is no casting day {number}.")
        if not sheet.flasks:
            raise ValidationError(f"No flask is planned for casting day {number} any more.")
        if sheet.timetable is None:
            raise ValidationError(
                f"{sheet.day.schedule} has no hours yet. Write down its climbs and holds first."
            )
        return int(number)
