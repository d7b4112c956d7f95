"""What a lot was ordered and billed as, where it is kept as mixed metal."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0031_weighed_without_investment"),
    ]

    operations = [
        migrations.AddField(
            model_name="lot",
            name="bought_as",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inventory.material",
            ),
        ),
    ]
