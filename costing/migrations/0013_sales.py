
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("costing", "0012_outside_work"),
        ("inventory", "0024_returns"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Outing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('fair', 'fair'), ('gallery', 'gallery')], max_length=7)),
                ('name', models.CharField(max_length=80)),
                ('day', models.DateField()),
                ('note', models.CharField(blank=True, default='', max_length=500)),
                ('channel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='outings', to='costing.channel')),
                ('recorded_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-day', '-id'],
            },
        ),
        migrations.CreateModel(
            name='Sale',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('buyer', models.CharField(blank=True, default='', max_length=120)),
                ('note', models.CharField(blank=True, default='', max_length=500)),
                ('tax', models.CharField(choices=[('in', 'in the price'), ('out', 'added to the price'), ('none', 'none')], max_length=4)),
                ('tax_pct100', models.PositiveIntegerField()),
                ('tax_by_line', models.BooleanField(default=False)),
                ('is_owed', models.BooleanField(default=False)),
                ('paid_on', models.DateField(blank=True, null=True)),
                ('recorded_at', models.DateTimeField(auto_now_add=True)),
                ('channel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='costing.channel')),
                ('outing', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='costing.outing')),
                ('recorded_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-day', '-id'],
            },
        ),
        migrations.CreateModel(
            name='CustomerBill',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('year', models.PositiveSmallIntegerField()),
                ('number', models.PositiveIntegerField()),
                ('day', models.DateField()),
                ('sold_on', models.DateField()),
                ('buyer', models.CharField(max_length=120)),
                ('address', models.CharField(blank=True, default='', max_length=300)),
                ('sender', models.CharField(blank=True, default='', max_length=300)),
                ('tax_number', models.CharField(blank=True, default='', max_length=40)),
                ('tax_pct100', models.PositiveIntegerField(default=0)),
                ('tax_by_line', models.BooleanField(default=False)),
                ('is_paid', models.BooleanField(default=True)),
                ('struck_out_on', models.DateField(blank=True, null=True)),
                ('struck_out_why', models.CharField(blank=True, default='', max_length=200)),
                ('sale', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bills', to='costing.sale')),
            ],
            options={
                'ordering': ['-year', '-number'],
            },
        ),
        migrations.CreateModel(
            name='SaleLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('asked_micro', models.BigIntegerField(blank=True, null=True)),
                ('price_micro', models.BigIntegerField()),
                ('discount_micro', models.BigIntegerField(default=0)),
                ('paid_micro', models.BigIntegerField()),
                ('tax_micro', models.BigIntegerField(default=0)),
                ('commission_micro', models.BigIntegerField(default=0)),
                ('card_micro', models.BigIntegerField(default=0)),
                ('day_micro', models.BigIntegerField(default=0)),
                ('shipping_micro', models.BigIntegerField(default=0)),
                ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale_line', to='inventory.entry')),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sale_lines', to='inventory.piece')),
                ('sale', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='costing.sale')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='Refund',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('amount_micro', models.BigIntegerField()),
                ('tax_micro', models.BigIntegerField(default=0)),
                ('fees_back_micro', models.BigIntegerField(default=0)),
                ('reason', models.CharField(blank=True, default='', max_length=200)),
                ('void', models.BooleanField(default=False)),
                ('entry', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='refund', to='inventory.entry')),
                ('recorded_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('line', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='refunds', to='costing.saleline')),
            ],
            options={
                'ordering': ['day', 'id'],
            },
        ),
        migrations.CreateModel(
            name='SalesPractice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('owed_days', models.PositiveSmallIntegerField(default=30)),
                ('tax_by_line', models.BooleanField(default=False)),
                ('sender', models.CharField(blank=True, default='', max_length=300)),
                ('tax_number', models.CharField(blank=True, default='', max_length=40)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='salespractice_only_one')],
            },
        ),
        migrations.CreateModel(
            name='BillRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(max_length=200)),
                ('before_tax_micro', models.BigIntegerField()),
                ('tax_micro', models.BigIntegerField()),
                ('bill', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='rows', to='costing.customerbill')),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('before_tax_micro__gte', 0), ('tax_micro__gte', 0)), name='billrow_not_below_zero')],
            },
        ),
        migrations.CreateModel(
            name='OutPiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('price_micro', models.BigIntegerField(blank=True, null=True)),
                ('back_on', models.DateField(blank=True, null=True)),
                ('outing', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='costing.outing')),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='outings', to='inventory.piece')),
            ],
            options={
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(fields=('outing', 'piece'), name='outpiece_once_an_outing'), models.CheckConstraint(condition=models.Q(('price_micro__isnull', True), ('price_micro__gte', 0), _connector='OR'), name='outpiece_price_not_below_zero')],
            },
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('is_owed', True), ('paid_on__isnull', True), _connector='OR'), name='sale_paid_only_what_was_owed'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('tax_pct100__lte', 10000)), name='sale_tax_at_most_all'),
        ),
        migrations.AddConstraint(
            model_name='customerbill',
            constraint=models.UniqueConstraint(fields=('year', 'number'), name='customerbill_number_once_a_year'),
        ),
        migrations.AddConstraint(
            model_name='customerbill',
            constraint=models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='customerbill_numbers_begin_at_one'),
        ),
        migrations.AddConstraint(
            model_name='saleline',
            constraint=models.CheckConstraint(condition=models.Q(('card_micro__gte', 0), ('commission_micro__gte', 0), ('day_micro__gte', 0), ('discount_micro__gte', 0), ('paid_micro__gte', 0), ('price_micro__gte', 0), ('shipping_micro__gte', 0), ('tax_micro__gte', 0)), name='saleline_not_below_zero'),
        ),
        migrations.AddConstraint(
            model_name='saleline',
            constraint=models.CheckConstraint(condition=models.Q(('discount_micro__lte', models.F('price_micro')), ('tax_micro__lte', models.F('paid_micro'))), name='saleline_parts_of_it'),
        ),
        migrations.AddConstraint(
            model_name='refund',
            constraint=models.CheckConstraint(condition=models.Q(('amount_micro__gte', 0), ('fees_back_micro__gte', 0), ('tax_micro__gte', 0)), name='refund_not_below_zero'),
        ),
        migrations.AddConstraint(
            model_name='refund',
            constraint=models.CheckConstraint(condition=models.Q(('tax_micro__lte', models.F('amount_micro'))), name='refund_tax_in_it'),
        ),
    ]
