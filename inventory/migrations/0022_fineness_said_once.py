"""The yes or no that one word now stands for."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("inventory", "0021_known_fineness")]

    operations = [migrations.RemoveField("lot", "fineness_is_guess")]
