"""No climb of no degrees an hour, which would never end, and no casting day beyond the calendar."""

import datetime
from typing import Any

from django.db import migrations, models


def let_climb(apps: Any, schema_editor: Any) -> None:
    """The slowest climb there can be, of which the schedule's page says that it must be written faster."""
    apps.get_model("inventory", "ScheduleStep").objects.filter(climb_c_per_hour=0).update(climb_c_per_hour=1)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0041_told")]

    operations = [
        migrations.RunPython(let_climb, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="schedulestep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("climb_c_per_hour__isnull", True), ("climb_c_per_hour__gte", 1), _connector="OR"
                ),
                name="schedulestep_climbs",
            ),
        ),
        migrations.AddConstraint(
            model_name="castingday",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("wish_at__gte", datetime.datetime(1999, 1, 1, tzinfo=datetime.UTC)),
                    ("wish_at__lt", datetime.datetime(2102, 1, 1, tzinfo=datetime.UTC)),
                ),
                name="castingday_wish_in_calendar",
            ),
        ),
    ]
