from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0023_designs"),
    ]

    operations = [
        migrations.AlterField(
            model_name="entry",
            name="kind",
            field=models.CharField(
                choices=[
                    ("delivery", "delivery"),
                    ("opening", "opening stock"),
                    ("handed_in", "customer's metal handed in"),
                    ("late_bill", "late bill"),
                    ("tree", "tree"),
                    ("powder", "investing"),
                    ("charge", "charge"),
                    ("close", "weights after the pour"),
                    ("finish", "finishing"),
                    ("melt_back", "piece back to the pot"),
                    ("sale", "piece sold"),
                    ("return", "piece came back"),
                    ("use", "taken from stock"),
                    ("count", "stock count"),
                    ("scrap", "thrown away"),
                    ("hand_back", "customer's metal handed back"),
                    ("top_up", "metal passed to a customer"),
                    ("found", "metal found later"),
                    ("cleaned", "failed castings cleaned"),
                    ("together", "put together in a tin"),
                    ("apart", "taken out of a tin"),
                    ("send", "metal sent to a refiner"),
                    ("settle", "refiner's settlement"),
                    ("sent_back", "metal sent back by a refiner"),
                    ("assay", "fineness put right"),
                    ("reversal", "reversal"),
                ],
                max_length=10,
            ),
        ),
    ]
