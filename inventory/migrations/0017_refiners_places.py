"""The named places that metal goes to from a refiner: one holder each."""

from django.db import migrations

PLACES = ("refiner", "ref_lost", "ref_assay")


def make(apps, schema_editor):
    holder = apps.get_model("inventory", "Holder")
    for place in PLACES:
        holder.objects.get_or_create(kind="outside", place=place)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0016_refining")]

    operations = [migrations.RunPython(make, migrations.RunPython.noop)]
