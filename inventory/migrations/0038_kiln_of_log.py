"""A log says of which kiln it is, so that the latest of a kiln are found without reading all."""

import django.db.models.deletion
from django.db import migrations, models


def fill(apps, schema_editor):
    logs, firings = (apps.get_model("inventory", name) for name in ("KilnLog", "Firing"))
    kiln = firings.objects.filter(pk=models.OuterRef("firing")).values("kiln")
    logs.objects.update(kiln=models.Subquery(kiln))


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0037_kiln_log"),
    ]

    operations = [
        migrations.AddField(
            model_name="kilnlog",
            name="kiln",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inventory.equipment",
            ),
        ),
        migrations.AddIndex(
            model_name="kilnlog",
            index=models.Index("kiln", models.F("firing").desc(), name="kilnlog_latest_of_kiln"),
        ),
        # Last: PostgreSQL changes no table whose new links are still to be looked at.
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
