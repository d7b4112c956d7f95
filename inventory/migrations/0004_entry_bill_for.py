"""A late bill names the delivery it is for, also when all of that is used up."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_holder_with_something")]

    operations = [
        migrations.AddField(
            model_name="entry",
            name="bill_for",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="late_bills",
                to="inventory.delivery",
            ),
        ),
    ]
