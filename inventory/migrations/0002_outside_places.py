"""The named places of the outside world: one holder each, there from the start."""

from django.db import migrations

PLACES = ["supplier", "opening", "customer", "used", "lost", "counted", "scrapped", "alloyed", "late"]


def make_places(apps, schema_editor):
    holder = apps.get_model("inventory", "Holder")
    for place in PLACES:
        holder.objects.get_or_create(kind="outside", place=place)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_first")]

    operations = [migrations.RunPython(make_places, migrations.RunPython.noop)]
