from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0035_turns'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='firing',
            name='firing_minutes_range',
        ),
        migrations.AddField(
            model_name='firing',
            name='begun_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name='firing',
            name='minutes',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='firing',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('minutes__gte', 1), ('minutes__isnull', False), ('minutes__lte', 10080)), models.Q(('begun_at__isnull', False), ('minutes__isnull', True)), _connector='OR'), name='firing_minutes_range'),
        ),
    ]
