from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('costing', '0014_design_prices'),
        ('inventory', '0039_design_height'),
    ]

    operations = [
        migrations.AddField(
            model_name='quote',
            name='own_metal',
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name='quote',
            constraint=models.CheckConstraint(condition=models.Q(('own_metal', False), ('customer__isnull', False), _connector='OR'), name='quote_own_metal_is_somebodys'),
        ),
    ]
