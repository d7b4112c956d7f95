import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from studio.kit.migrating import AllAtOnce


class Migration(migrations.Migration):

    initial = True

    # What the single steps make, in one: for a new database. One that is part of the way there goes on by the steps.
    replaces = [
        ('costing', '0001_first'),
        ('costing', '0010_prices'),
        ('costing', '0011_quotes'),
        ('costing', '0012_outside_work'),
        ('costing', '0013_sales'),
        ('costing', '0014_design_prices'),
    ]

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ('inventory', '0029_guess_a_week'),
    ]

    tables = [
        migrations.CreateModel(
            name='CastingTerms',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('gram_micro_per_kg', models.BigIntegerField(default=0)),
                ('flask_micro', models.BigIntegerField(default=0)),
                ('mould_micro', models.BigIntegerField(default=0)),
                ('metal_pct100', models.PositiveIntegerField(default=0)),
                ('archived', models.BooleanField(default=False)),
            ],
            options={
                'verbose_name_plural': 'casting terms',
                'ordering': ['name'],
                'constraints': [models.CheckConstraint(condition=models.Q(('flask_micro__gte', 0), ('gram_micro_per_kg__gte', 0), ('mould_micro__gte', 0)), name='castingterms_not_below_zero'), models.CheckConstraint(condition=models.Q(('metal_pct100__lte', 10000)), name='castingterms_metal_share_range')],
            },
        ),
        migrations.CreateModel(
            name='FinePrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('metal', models.CharField(choices=[('silver', 'silver'), ('gold', 'gold'), ('platinum', 'platinum'), ('palladium', 'palladium')], max_length=9)),
                ('day', models.DateField()),
                ('price_micro', models.BigIntegerField()),
                ('per_unit', models.CharField(choices=[('g', 'g'), ('kg', 'kg'), ('ozt', 'ozt'), ('dwt', 'dwt'), ('lb', 'lb')], default='ozt', max_length=5)),
            ],
            options={
                'ordering': ['-day', 'metal'],
                'constraints': [models.UniqueConstraint(fields=('metal', 'day'), name='fineprice_one_a_day'), models.CheckConstraint(condition=models.Q(('price_micro__gt', 0)), name='fineprice_more_than_nothing')],
            },
        ),
        migrations.CreateModel(
            name='NamedRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('method', models.CharField(choices=[('margin', 'margin, per cent of the price'), ('multiple', 'multiple of the cost'), ('parts', 'materials and time, each times a number')], default='multiple', max_length=8)),
                ('value_hundredths', models.PositiveIntegerField(default=200)),
                ('time_hundredths', models.PositiveIntegerField(default=100)),
                ('added_micro', models.BigIntegerField(default=0)),
                ('least_per_hour_micro', models.BigIntegerField(default=0)),
                ('metal', models.CharField(choices=[('book', 'what it cost'), ('today', 'what it costs to buy again'), ('higher', 'whichever is higher')], default='higher', max_length=6)),
                ('counts_failures', models.BooleanField(default=False)),
                ('step_micro', models.BigIntegerField(default=1000000)),
                ('rounding', models.CharField(choices=[('up', 'up'), ('nearest', 'to the nearest')], default='up', max_length=7)),
                ('archived', models.BooleanField(default=False)),
            ],
            options={
                'ordering': ['name'],
                'constraints': [models.CheckConstraint(condition=models.Q(('method', 'margin'), ('value_hundredths__gte', 10000), _negated=True), name='namedrule_margin_below_all'), models.CheckConstraint(condition=models.Q(('added_micro__gte', 0), ('least_per_hour_micro__gte', 0), ('step_micro__gt', 0)), name='namedrule_sums_not_below_zero')],
            },
        ),
        migrations.CreateModel(
            name='Channel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('commission_pct100', models.PositiveIntegerField(default=0)),
                ('card_pct100', models.PositiveIntegerField(default=0)),
                ('card_micro', models.BigIntegerField(default=0)),
                ('day_micro', models.BigIntegerField(default=0)),
                ('sold_a_day', models.PositiveIntegerField(default=1)),
                ('shipping_micro', models.BigIntegerField(default=0)),
                ('tax', models.CharField(choices=[('in', 'in the price'), ('out', 'added to the price'), ('none', 'none')], default='in', max_length=4)),
                ('archived', models.BooleanField(default=False)),
                ('rule', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='channels', to='costing.namedrule')),
            ],
            options={
                'ordering': ['name'],
                'constraints': [models.CheckConstraint(condition=models.Q(('card_pct100__lt', 10000), ('commission_pct100__lt', 10000)), name='channel_shares_below_all'), models.CheckConstraint(condition=models.Q(('card_micro__gte', 0), ('day_micro__gte', 0), ('shipping_micro__gte', 0)), name='channel_sums_not_below_zero'), models.CheckConstraint(condition=models.Q(('sold_a_day__gte', 1)), name='channel_sells_something')],
            },
        ),
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
        migrations.CreateModel(
            name='OutsideWork',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('plate', 'plating'), ('mark', 'hallmarking'), ('set', 'setting'), ('chain', 'chain'), ('other', 'other work')], default='plate', max_length=5)),
                ('words', models.CharField(blank=True, default='', max_length=120)),
                ('day', models.DateField()),
                ('basis', models.CharField(choices=[('each', 'so much for each piece'), ('equal', 'one bill, shared equally'), ('mass', 'one bill, shared by mass')], default='each', max_length=5)),
                ('amount_micro', models.BigIntegerField()),
                ('supplier', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='outside_works', to='inventory.supplier')),
            ],
            options={
                'ordering': ['-day', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount_micro__gt', 0)), name='outsidework_more_than_nothing')],
            },
        ),
        migrations.CreateModel(
            name='OutsideShare',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('amount_micro', models.BigIntegerField()),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='outside_shares', to='inventory.piece')),
                ('work', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='shares', to='costing.outsidework')),
            ],
            options={
                'ordering': ['work', 'piece'],
                'constraints': [models.UniqueConstraint(fields=('work', 'piece'), name='outsideshare_piece_once'), models.CheckConstraint(condition=models.Q(('amount_micro__gte', 0)), name='outsideshare_not_below_zero')],
            },
        ),
        migrations.CreateModel(
            name='Policy',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_day', models.DateField(unique=True)),
                ('normal_loss_pct100', models.PositiveIntegerField(default=100)),
                ('reclaim_resale_micro_per_kg', models.BigIntegerField(blank=True, null=True)),
                ('energy_micro_per_kwh', models.BigIntegerField(default=0)),
                ('hourly_rate_micro', models.BigIntegerField(default=0)),
                ('overhead_per_hour_micro', models.BigIntegerField(default=0)),
                ('consumables_per_cast_micro', models.BigIntegerField(default=0)),
                ('consumables_per_piece_micro', models.BigIntegerField(default=0)),
                ('loss_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='grams', max_length=7)),
                ('powder_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='volume', max_length=7)),
                ('pattern_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='volume', max_length=7)),
                ('energy_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='volume', max_length=7)),
                ('wear_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='grams', max_length=7)),
                ('consumables_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='equally', max_length=7)),
                ('time_basis', models.CharField(choices=[('grams', 'by grams as cast'), ('equally', 'the same for each piece'), ('volume', 'by volume of the pattern')], default='equally', max_length=7)),
                ('wholesale_method', models.CharField(choices=[('margin', 'margin, per cent of the price'), ('multiple', 'multiple of the cost')], default='multiple', max_length=8)),
                ('wholesale_hundredths', models.PositiveIntegerField(default=200)),
                ('retail_method', models.CharField(choices=[('margin', 'margin, per cent of the price'), ('multiple', 'multiple of the cost')], default='multiple', max_length=8)),
                ('retail_hundredths', models.PositiveIntegerField(default=400)),
                ('tax_pct100', models.PositiveIntegerField(default=0)),
                ('price_step_micro', models.BigIntegerField(default=1000000)),
                ('price_rounding', models.CharField(choices=[('up', 'up'), ('nearest', 'to the nearest')], default='up', max_length=7)),
            ],
            options={
                'verbose_name_plural': 'policies',
                'ordering': ['-from_day'],
                'constraints': [models.CheckConstraint(condition=models.Q(('normal_loss_pct100__lte', 10000), ('tax_pct100__lte', 10000)), name='policy_shares_at_most_all'), models.CheckConstraint(condition=models.Q(('consumables_per_cast_micro__gte', 0), ('consumables_per_piece_micro__gte', 0), ('energy_micro_per_kwh__gte', 0), ('hourly_rate_micro__gte', 0), ('overhead_per_hour_micro__gte', 0), ('price_step_micro__gt', 0)), name='policy_rates_not_below_zero'), models.CheckConstraint(condition=models.Q(models.Q(('wholesale_hundredths__gte', 10000), ('wholesale_method', 'margin'), _negated=True), models.Q(('retail_hundredths__gte', 10000), ('retail_method', 'margin'), _negated=True)), name='policy_margin_below_all')],
            },
        ),
        migrations.CreateModel(
            name='PricePractice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('old_price_days', models.PositiveSmallIntegerField(default=14)),
                ('failed_days', models.PositiveSmallIntegerField(default=365)),
                ('floor_rule', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='costing.namedrule')),
                ('usual_channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='costing.channel')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='pricepractice_only_one')],
            },
        ),
        migrations.CreateModel(
            name='Quote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=100)),
                ('wanted_on', models.DateField(blank=True, null=True)),
                ('made_on', models.DateField()),
                ('note', models.CharField(blank=True, default='', max_length=2000)),
                ('archived', models.BooleanField(default=False)),
                ('alloy', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='quotes', to='inventory.alloy')),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='quotes', to='costing.channel')),
                ('customer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='quotes', to='inventory.customer')),
                ('plans', models.ManyToManyField(blank=True, related_name='quotes', to='inventory.plan')),
            ],
            options={
                'ordering': ['-made_on', '-id'],
            },
        ),
        migrations.CreateModel(
            name='QuoteLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('quantity', models.PositiveSmallIntegerField()),
                ('price_micro', models.BigIntegerField(blank=True, null=True)),
                ('fits', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('place', models.PositiveSmallIntegerField(default=0)),
                ('design', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='quote_lines', to='inventory.design')),
                ('quote', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='costing.quote')),
            ],
            options={
                'ordering': ['quote', 'place', 'id'],
                'constraints': [models.UniqueConstraint(fields=('quote', 'design'), name='quoteline_design_once'), models.CheckConstraint(condition=models.Q(('quantity__gte', 1), ('quantity__lte', 1000)), name='quoteline_of_some'), models.CheckConstraint(condition=models.Q(models.Q(('price_micro__isnull', True), ('price_micro__gt', 0), _connector='OR'), models.Q(('fits__isnull', True), ('fits__gt', 0), _connector='OR')), name='quoteline_figures_are_something')],
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
                'constraints': [models.CheckConstraint(condition=models.Q(('is_owed', True), ('paid_on__isnull', True), _connector='OR'), name='sale_paid_only_what_was_owed'), models.CheckConstraint(condition=models.Q(('tax_pct100__lte', 10000)), name='sale_tax_at_most_all')],
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
                'constraints': [models.UniqueConstraint(fields=('year', 'number'), name='customerbill_number_once_a_year'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='customerbill_numbers_begin_at_one')],
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
                'constraints': [models.CheckConstraint(condition=models.Q(('card_micro__gte', 0), ('commission_micro__gte', 0), ('day_micro__gte', 0), ('discount_micro__gte', 0), ('paid_micro__gte', 0), ('price_micro__gte', 0), ('shipping_micro__gte', 0), ('tax_micro__gte', 0)), name='saleline_not_below_zero'), models.CheckConstraint(condition=models.Q(('discount_micro__lte', models.F('price_micro')), ('tax_micro__lte', models.F('paid_micro'))), name='saleline_parts_of_it')],
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
                'constraints': [models.CheckConstraint(condition=models.Q(('amount_micro__gte', 0), ('fees_back_micro__gte', 0), ('tax_micro__gte', 0)), name='refund_not_below_zero'), models.CheckConstraint(condition=models.Q(('tax_micro__lte', models.F('amount_micro'))), name='refund_tax_in_it')],
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
            name='AlloyPremium',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('share_pct100', models.PositiveIntegerField(default=0)),
                ('micro_per_kg', models.BigIntegerField(default=0)),
                ('alloy', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='premium', to='inventory.alloy')),
            ],
            options={
                'ordering': ['alloy__name'],
                'constraints': [models.CheckConstraint(condition=models.Q(('share_pct100__lte', 100000)), name='alloypremium_share_range'), models.CheckConstraint(condition=models.Q(('micro_per_kg__gte', 0)), name='alloypremium_not_below_zero')],
            },
        ),
        migrations.CreateModel(
            name='AskedPrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('price_micro', models.BigIntegerField()),
                ('reason', models.CharField(blank=True, default='', max_length=200)),
                ('recorded_at', models.DateTimeField(auto_now_add=True)),
                ('design', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='asked_prices', to='inventory.design')),
                ('piece', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='asked_prices', to='inventory.piece')),
                ('recorded_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-day', '-id'],
                'indexes': [models.Index(fields=['piece', '-day', '-id'], name='askedprice_newest'), models.Index(fields=['design', '-day', '-id'], name='askedprice_newest_of_design')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('design__isnull', True), ('piece__isnull', False)), models.Q(('design__isnull', False), ('piece__isnull', True)), _connector='OR'), name='askedprice_of_one_thing'), models.CheckConstraint(condition=models.Q(('price_micro__gt', 0)), name='askedprice_more_than_nothing')],
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
            name='MetalPrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('price_micro', models.BigIntegerField()),
                ('per_unit', models.CharField(choices=[('g', 'g'), ('kg', 'kg'), ('ozt', 'ozt'), ('dwt', 'dwt'), ('lb', 'lb')], default='g', max_length=5)),
                ('alloy', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='prices', to='inventory.alloy')),
            ],
            options={
                'ordering': ['-day', 'alloy'],
                'constraints': [models.UniqueConstraint(fields=('alloy', 'day'), name='metalprice_one_a_day'), models.CheckConstraint(condition=models.Q(('price_micro__gt', 0)), name='metalprice_more_than_nothing')],
            },
        ),
    ]

    operations = [AllAtOnce(tables)]
