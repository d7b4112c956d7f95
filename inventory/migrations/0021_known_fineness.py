"""How well a fineness is known: one word with its ends instead of yes or no, and what was said of it with an entry."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Q


PROVED = ("bought", "opening", "refined")
UNPROVED = Q(from_cast=None) & (~Q(origin__in=PROVED) | (Q(material__form="scrap") & ~Q(origin="refined")))


def lines_between_lots(apps):
    """What was put together, taken apart, cleaned or passed to a customer: it is known as well as what it was made of."""
    return apps.get_model("inventory", "Movement").objects.filter(
        entry__kind__in=("together", "apart", "cleaned", "top_up"),
        entry__reversed_by__isnull=True,
        source__kind="lot",
        target__kind="lot",
    )


def say_how_it_is_known(apps, schema_editor):
    """What was ticked by hand, against what a lot's origin or make-up made of it, becomes a word that was said with the
    entry that brought the lot in; what is known of casts and tins follows from the lots anew."""
    Lot, Note = apps.get_model("inventory", "Lot"), apps.get_model("inventory", "FinenessNote")
    metal = Lot.objects.filter(material__kind="metal", void=False)
    between = lines_between_lots(apps)
    of_lots = Q(pk__in=list(between.values_list("target__lot", flat=True)))
    of_guesses = between.filter(source__lot__fineness_is_guess=True)
    expected = (~of_lots & (UNPROVED | Q(from_cast__fineness_is_guess=True))) | Q(
        pk__in=list(of_guesses.values_list("target__lot", flat=True))
    )
    ticked = metal.filter(fineness_is_guess=True).exclude(pk__in=metal.filter(expected).values("pk"))
    unticked = metal.filter(expected, fineness_is_guess=False)
    for word, lots in (("guess", ticked), ("assayed", unticked)):
        for pk, entry in list(lots.values_list("pk", "entry")):
            Note.objects.create(lot_id=pk, entry_id=entry, fineness_by=word)
    follow_guesses(apps, UNPROVED)


def follow_guesses(apps, unproved):
    """Lots are as they were said to be, else guesses where nobody proved them, and so is all that was made of guesses."""
    Lot, Cast = apps.get_model("inventory", "Lot"), apps.get_model("inventory", "Cast")
    Note, Movement = apps.get_model("inventory", "FinenessNote"), apps.get_model("inventory", "Movement")
    metal = Lot.objects.filter(material__kind="metal")
    made = list(lines_between_lots(apps).values_list("target__lot", "source__lot"))
    of_lots = Q(pk__in={lot for lot, _ in made})
    said = {word: Note.objects.filter(fineness_by=word).values("lot") for word in ("guess", "assayed")}
    metal.filter(of_lots | Q(from_cast__isnull=False)).update(fineness_by="charge")
    metal.filter(pk__in=said["assayed"]).update(fineness_by="assayed")
    Cast.objects.update(fineness_is_guess=False)
    open_to_doubt = metal.exclude(pk__in=said["assayed"]).exclude(fineness_by="guess")
    unproved_lots = metal.filter(unproved).exclude(of_lots)
    is_new = open_to_doubt.filter(
        Q(pk__in=said["guess"]) | Q(pk__in=unproved_lots.values("pk"))
    ).update(fineness_by="guess")
    while is_new:
        charges = Movement.objects.filter(
            entry__kind="charge", entry__reversed_by__isnull=True, source__lot__fineness_by="guess"
        )
        Cast.objects.filter(pk__in=charges.values("entry__cast")).update(fineness_is_guess=True)
        of_guesses = lines_between_lots(apps).filter(source__lot__fineness_by="guess")
        doubtful = (~of_lots & Q(from_cast__fineness_is_guess=True)) | Q(
            pk__in=list(of_guesses.values_list("target__lot", flat=True))
        )
        # What is marked already is left out, so that this ends.
        is_new = open_to_doubt.filter(doubtful).update(fineness_by="guess")
    _take_one_word(metal, made, set(Note.objects.values_list("lot", flat=True)))


def _take_one_word(metal, made, said):
    """What was made of lots that are all known from the same is known from that too."""
    sources = {}
    for lot, source in made:
        sources.setdefault(lot, set()).add(source)
    words = dict(metal.values_list("pk", "fineness_by"))
    changes = None
    while changes is None or changes:
        changes = {}
        for lot in sources.keys() - said:
            found = {words[source] for source in sources[lot]}
            if words[lot] == "charge" and len(found) == 1 and found != {"charge"}:
                [changes[lot]] = found
        words |= changes
        for lot, word in changes.items():
            metal.filter(pk=lot).update(fineness_by=word)


def make_place(apps, schema_editor):
    apps.get_model("inventory", "Holder").objects.get_or_create(kind="outside", place="assay")


class Migration(migrations.Migration):
    dependencies = [("inventory", "0020_loss_limits")]

    operations = [
        migrations.CreateModel(
            name='CarriedOn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='FinenessNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('fineness_by', models.CharField(choices=[('marked', 'as its maker marked it'), ('charge', 'worked out from its charge'), ('assayed', 'assayed'), ('guess', 'a guess')], max_length=7)),
                ('low_ppm', models.PositiveIntegerField(null=True)),
                ('high_ppm', models.PositiveIntegerField(null=True)),
                ('by_whom', models.CharField(blank=True, default='', max_length=80)),
                ('paper', models.CharField(blank=True, default='', max_length=60)),
                ('goes_on', models.BooleanField(default=False)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddField(
            model_name='alloy',
            name='is_mixed',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='cast',
            name='fine_high_ug',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='cast',
            name='fine_low_ug',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='cast',
            name='meant_alloy',
            field=models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.alloy'),
        ),
        migrations.AddField(
            model_name='lot',
            name='fine_high_ppm',
            field=models.PositiveIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='lot',
            name='fine_low_ppm',
            field=models.PositiveIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='lot',
            name='fineness_by',
            field=models.CharField(choices=[('marked', 'as its maker marked it'), ('charge', 'worked out from its charge'), ('assayed', 'assayed'), ('guess', 'a guess')], default='marked', max_length=7),
        ),
        migrations.AlterField(
            model_name='entry',
            name='kind',
            field=models.CharField(choices=[('delivery', 'delivery'), ('opening', 'opening stock'), ('handed_in', "customer's metal handed in"), ('late_bill', 'late bill'), ('tree', 'tree'), ('powder', 'investing'), ('charge', 'charge'), ('close', 'weights after the pour'), ('finish', 'finishing'), ('melt_back', 'piece back to the pot'), ('sale', 'piece sold'), ('use', 'taken from stock'), ('count', 'stock count'), ('scrap', 'thrown away'), ('hand_back', "customer's metal handed back"), ('top_up', 'metal passed to a customer'), ('found', 'metal found later'), ('cleaned', 'failed castings cleaned'), ('together', 'put together in a tin'), ('apart', 'taken out of a tin'), ('send', 'metal sent to a refiner'), ('settle', "refiner's settlement"), ('sent_back', 'metal sent back by a refiner'), ('assay', 'fineness put right'), ('reversal', 'reversal')], max_length=10),
        ),
        migrations.AlterField(
            model_name='holder',
            name='place',
            field=models.CharField(blank=True, choices=[('supplier', 'supplier'), ('opening', 'opening stock'), ('customer', 'customer'), ('used', 'used in the work'), ('lost', 'lost'), ('counted', 'found or missing at a count'), ('scrapped', 'thrown away'), ('alloyed', 'precious metal alloyed into another'), ('late', 'late bills on stock already used'), ('refiner', 'paid out or kept by refiners'), ('ref_lost', 'lost at the refiner'), ('ref_assay', 'assay difference at the refiner'), ('assay', 'put right by assay')], default='', max_length=10),
        ),
        migrations.AddConstraint(
            model_name='alloy',
            constraint=models.UniqueConstraint(condition=models.Q(('is_mixed', True)), fields=('metal',), name='alloy_one_mixed_of_each_metal'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('fine_high_ppm__isnull', True), ('fine_low_ppm__isnull', True)), models.Q(('fine_high_ppm__lte', 1000000), ('fine_low_ppm__lte', models.F('fine_high_ppm'))), _connector='OR'), name='lot_fineness_between_its_ends'),
        ),
        migrations.AddField(
            model_name='carriedon',
            name='holder',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='assays_carried_on', to='inventory.holder'),
        ),
        migrations.AddField(
            model_name='finenessnote',
            name='entry',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fineness_notes', to='inventory.entry'),
        ),
        migrations.AddField(
            model_name='finenessnote',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fineness_notes', to='inventory.lot'),
        ),
        migrations.AddField(
            model_name='carriedon',
            name='note',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='carried_on', to='inventory.finenessnote'),
        ),
        migrations.AddConstraint(
            model_name='finenessnote',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('high_ppm__isnull', True), ('low_ppm__isnull', True)), models.Q(('high_ppm__lte', 1000000), ('low_ppm__lte', models.F('high_ppm'))), _connector='OR'), name='finenessnote_between_its_ends'),
        ),
        migrations.RunPython(make_place, migrations.RunPython.noop),
        migrations.RunPython(say_how_it_is_known, migrations.RunPython.noop),
    ]
