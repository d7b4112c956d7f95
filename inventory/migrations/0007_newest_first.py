"""Lists that show the newest first find them without reading all there are; so do the casts closed in a time.

Late bills are few among the entries, and have an index of their own; a kiln's past is added up from one.
"""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0006_heat_and_care")]

    operations = [
        migrations.AddIndex(
            model_name="cast",
            index=models.Index(fields=["closed_on"], name="cast_by_closing"),
        ),
        migrations.AddIndex(
            model_name="delivery",
            index=models.Index(fields=["-received_on", "-id"], name="delivery_newest_first"),
        ),
        migrations.AddIndex(
            model_name="firing",
            index=models.Index(fields=["-day", "-id"], name="firing_newest_first"),
        ),
        migrations.AddIndex(
            model_name="firing",
            index=models.Index(
                fields=[
                    "kiln",
                    "minutes",
                    "rated_w",
                    "share_on_pct100",
                    "day",
                    "meter_before_wh",
                    "meter_after_wh",
                ],
                name="firing_past_of_kiln",
            ),
        ),
        migrations.AlterField(
            model_name="entry",
            name="bill_for",
            field=models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="late_bills",
                to="inventory.delivery",
            ),
        ),
        migrations.AddIndex(
            model_name="entry",
            index=models.Index(
                condition=models.Q(("bill_for__isnull", False)),
                fields=["bill_for"],
                name="entry_late_bill",
            ),
        ),
    ]
