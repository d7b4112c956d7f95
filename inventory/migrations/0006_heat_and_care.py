"""How hot alloys and moulds are, how fast a kiln goes, what a bowl takes, and metal whose fineness nobody proved."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Q

_TEMPERATURES = ("solidus_c", "liquidus_c", "pour_least_c", "pour_most_c", "flask_least_c", "flask_most_c")


def mark_what_nobody_proved(apps, schema_editor):
    """Metal that was handed in, is scrap or old reclaim, and all that was ever made of it."""
    Lot, Cast = apps.get_model("inventory", "Lot"), apps.get_model("inventory", "Cast")
    Movement = apps.get_model("inventory", "Movement")
    unproved = Q(origin="handed_in") | Q(material__form="scrap") | (
        Q(entry__kind="opening") & ~Q(origin="opening")
    )
    metal = Lot.objects.filter(material__kind="metal")
    is_new = metal.filter(unproved).update(fineness_is_guess=True)
    while is_new:
        charges = Movement.objects.filter(entry__kind="charge", source__lot__fineness_is_guess=True)
        casts = Cast.objects.filter(fineness_is_guess=False, pk__in=charges.values("entry__cast"))
        casts.update(fineness_is_guess=True)
        # What is marked already is left out, so that this ends.
        is_new = metal.filter(fineness_is_guess=False, from_cast__fineness_is_guess=True).update(
            fineness_is_guess=True
        )


class Migration(migrations.Migration):
    dependencies = [("inventory", "0005_planning")]

    operations = [
        *(
            migrations.AddField("alloy", name, models.PositiveSmallIntegerField(blank=True, null=True))
            for name in _TEMPERATURES
        ),
        migrations.AddField("alloy", "heat_note", models.CharField(blank=True, default="", max_length=200)),
        migrations.AddField("cast", "fineness_is_guess", models.BooleanField(default=False)),
        migrations.AddField("lot", "fineness_is_guess", models.BooleanField(default=False)),
        migrations.AddField("daypractice", "bowl_powder_mg", models.PositiveIntegerField(default=2_000_000)),
        migrations.AddField(
            "daypractice", "climb_c_per_hour", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.AddField(
            "daypractice", "fall_c_per_hour", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.AlterField(
            "daypractice", "crucible_c", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.AlterField("daypractice", "largest_step_c", models.PositiveSmallIntegerField(default=100)),
        migrations.AddField(
            "schedule",
            "pattern",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="schedules_for_patterns",
                to="inventory.material",
            ),
        ),
        migrations.RunPython(mark_what_nobody_proved, migrations.RunPython.noop),
    ]
