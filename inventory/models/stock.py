"""What is kept in stock: alloys, materials and the lots they come in."""

from django.db import models
from django.db.models import F, Q

from inventory.core.fineness import By
from inventory.core.heat import Heats
from studio.kit.measures import PURITY
from studio.kit.models import check
from studio.kit.printing import print_fineness


class Alloy(models.Model):
    """A metal to cast: its fineness in parts per thousand of one precious metal, and its density."""

    class Metal(models.TextChoices):
        SILVER = "silver", "silver"
        GOLD = "gold", "gold"
        PLATINUM = "platinum", "platinum"
        PALLADIUM = "palladium", "palladium"
        BASE = "base", "no precious metal"

    name = models.CharField(max_length=60, unique=True)
    metal = models.CharField(max_length=9, choices=Metal)
    fineness = models.PositiveSmallIntegerField(default=0)
    density_mg_cm3 = models.PositiveIntegerField()
    density_note = models.CharField(max_length=120, blank=True, default="")
    solidus_c = models.PositiveSmallIntegerField(null=True, blank=True)
    liquidus_c = models.PositiveSmallIntegerField(null=True, blank=True)
    pour_least_c = models.PositiveSmallIntegerField(null=True, blank=True)
    pour_most_c = models.PositiveSmallIntegerField(null=True, blank=True)
    flask_least_c = models.PositiveSmallIntegerField(null=True, blank=True)
    flask_most_c = models.PositiveSmallIntegerField(null=True, blank=True)
    heat_note = models.CharField(max_length=200, blank=True, default="")
    # Its own wait from the pour to the quench; None takes the studio's.
    quench_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    # Of what is of no alloy's fineness: its own is nominal, each lot and charge has the one that it has.
    is_mixed = models.BooleanField(default=False)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["metal"], condition=Q(is_mixed=True), name="alloy_one_mixed_of_each_metal"
            ),
            check("alloy_fineness_at_most_1000", fineness__lte=1000),
            check(
                "alloy_base_has_no_fineness",
                (Q(metal="base") & Q(fineness=0)) | (~Q(metal="base") & Q(fineness__gt=0)),
            ),
            check("alloy_density_range", density_mg_cm3__gte=1000, density_mg_cm3__lte=25000),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def kept_fineness(self) -> int:
        """The fineness that a charge of it must keep, in parts per thousand; 0 for what promises none."""
        return 0 if self.is_mixed else self.fineness

    @property
    def heats(self) -> Heats:
        """How hot it melts, is poured and wants its flask."""
        return Heats(
            self.solidus_c,
            self.liquidus_c,
            self.pour_least_c,
            self.pour_most_c,
            self.flask_least_c,
            self.flask_most_c,
        )


class AlloyPart(models.Model):
    """How much of an element an alloy holds, in parts per ten thousand by mass."""

    alloy = models.ForeignKey(Alloy, models.CASCADE, related_name="parts")
    element = models.CharField(max_length=2)
    per_10000 = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["-per_10000", "element"]
        constraints = [
            models.UniqueConstraint(fields=["alloy", "element"], name="alloypart_element_once"),
            check("alloypart_share_range", per_10000__gte=1, per_10000__lte=10000),
        ]

    def __str__(self) -> str:
        return f"{self.element} {self.per_10000}"


class Material(models.Model):
    """A kind of thing kept in stock, and the small unit it is counted in."""

    class Kind(models.TextChoices):
        METAL = "metal", "metal"
        POWDER = "powder", "investment powder"
        PATTERN = "pattern", "pattern material"
        CONSUMABLE = "consumable", "consumable"
        FINDING = "finding", "finding or stone"
        PACKAGING = "packaging", "packaging"

    class Unit(models.TextChoices):
        MASS = "mass", "by mass, in grams"
        VOLUME = "volume", "by volume, in millilitres"
        ITEMS = "items", "by count"

    class Form(models.TextChoices):
        GRAIN = "grain", "grain"
        SHEET = "sheet", "sheet or wire"
        SCRAP = "scrap", "bought scrap"
        RECLAIM = "reclaim", "reclaimed"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    unit = models.CharField(max_length=6, choices=Unit, default=Unit.MASS)
    alloy = models.ForeignKey(Alloy, models.PROTECT, null=True, blank=True, related_name="materials")
    form = models.CharField(max_length=7, choices=Form, blank=True, default="")
    density_mg_cm3 = models.PositiveIntegerField(null=True, blank=True)
    water_per_100_tenths = models.PositiveSmallIntegerField(null=True, blank=True)
    shelf_life_days = models.PositiveSmallIntegerField(null=True, blank=True)
    opened_life_days = models.PositiveSmallIntegerField(null=True, blank=True)
    # Of investment powder only, from its maker's sheet.
    slurry_mg_cm3 = models.PositiveIntegerField(null=True, blank=True)
    working_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    sets_least_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    sets_most_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    most_c = models.PositiveSmallIntegerField(null=True, blank=True)
    is_gypsum_bonded = models.BooleanField(default=True)
    # Of a finding of precious metal: what it is made of, and what one weighs where it is counted.
    finding_alloy = models.ForeignKey(Alloy, models.PROTECT, null=True, blank=True, related_name="findings")
    item_mg = models.PositiveIntegerField(null=True, blank=True)
    supplier = models.ForeignKey("Supplier", models.SET_NULL, null=True, blank=True, related_name="+")
    # What its owner reckons that a week takes, in its small unit, until enough weeks tell.
    guess_a_week = models.BigIntegerField(null=True, blank=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            check(
                "material_metal_has_alloy",
                (Q(kind="metal") & Q(alloy__isnull=False) & ~Q(form=""))
                | (~Q(kind="metal") & Q(alloy__isnull=True) & Q(form="")),
            ),
            check("material_guess_is_something", Q(guess_a_week__isnull=True) | Q(guess_a_week__gt=0)),
            check("material_weighed_kinds", ~Q(kind__in=["metal", "powder"]) | Q(unit="mass")),
            check(
                "material_finding_of_metal",
                Q(finding_alloy__isnull=True, item_mg__isnull=True)
                | Q(kind="finding", unit="mass", finding_alloy__isnull=False, item_mg__isnull=True)
                | Q(kind="finding", unit="items", finding_alloy__isnull=False, item_mg__gt=0),
            ),
            models.UniqueConstraint(
                fields=["alloy"], condition=Q(form="reclaim"), name="material_one_reclaim_per_alloy"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def fineness(self) -> int:
        """Parts per thousand of precious metal; 0 for what is not metal."""
        return self.alloy.fineness if self.alloy else 0


class Lot(models.Model):
    """One parcel of one material with one origin; what it holds stands in its holder."""

    class Origin(models.TextChoices):
        BOUGHT = "bought", "bought"
        OPENING = "opening", "opening stock"
        HANDED_IN = "handed_in", "handed in by a customer"
        CLEAN = "clean", "button and sprues"
        FAILED = "failed", "failed castings"
        SPILL = "spill", "spill"
        FILINGS = "filings", "filings"
        SWEEPS = "sweeps", "sweeps"
        REFINED = "refined", "back from a refiner"

    class FinenessBy(models.TextChoices):
        """From what the fineness of metal is known."""

        MARKED = By.MARKED.value, "as its maker marked it"
        CHARGE = By.CHARGE.value, "worked out from its charge"
        ASSAYED = By.ASSAYED.value, "assayed"
        GUESS = By.GUESS.value, "a guess"

    #: Metal that has been through a crucible here. Which of it may go back in as it is, the studio says.
    RECLAIM = (Origin.CLEAN, Origin.FAILED, Origin.SPILL, Origin.FILINGS, Origin.SWEEPS)
    #: What comes back of a cast as metal in pieces: clean, or with investment on it until it is cleaned.
    IN_PIECES = (Origin.CLEAN, Origin.FAILED)
    #: What may lie together in a tin. Failed castings are cleaned first: what they lose then is a loss of their cast.
    IN_TINS = (Origin.CLEAN, Origin.SPILL, Origin.FILINGS, Origin.SWEEPS)
    FRESH = (Origin.BOUGHT, Origin.OPENING, Origin.HANDED_IN, Origin.REFINED)

    material = models.ForeignKey(Material, models.PROTECT, related_name="lots")
    holder = models.OneToOneField("Holder", models.PROTECT, related_name="lot")
    entry = models.ForeignKey("Entry", models.PROTECT, related_name="lots_made")
    origin = models.CharField(max_length=9, choices=Origin)
    received_on = models.DateField()
    owner = models.ForeignKey("Customer", models.PROTECT, null=True, blank=True, related_name="lots")
    supplier = models.ForeignKey("Supplier", models.PROTECT, null=True, blank=True, related_name="lots")
    delivery = models.ForeignKey("Delivery", models.PROTECT, null=True, related_name="lots")
    # What it was ordered and billed as, where it is kept as mixed metal.
    bought_as = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    supplier_batch = models.CharField(max_length=60, blank=True, default="")
    use_by = models.DateField(null=True, blank=True)
    opened_on = models.DateField(null=True, blank=True)
    from_cast = models.ForeignKey("Cast", models.PROTECT, null=True, related_name="lots_recovered")
    # The tin that it was made for, of everything that lay in it then.
    tin = models.ForeignKey("Tin", models.PROTECT, null=True, blank=True, related_name="lots")
    melts_milli = models.PositiveIntegerField(default=0)
    # Old metal of which nobody knows how often it was melted: it is reckoned as melted once.
    melts_are_guess = models.BooleanField(default=False)
    cost_is_estimate = models.BooleanField(default=False)
    kept_in = models.CharField(max_length=60, blank=True, default="")
    # Since when it may not be used: damp, or its newest setting test was out of the maker's time.
    damp_on = models.DateField(null=True, blank=True)
    sets_wrong_on = models.DateField(null=True, blank=True)
    # A guess is what nobody has proved: handed in, scrap, or made of such. Between which ends, in parts per million,
    # if somebody said; of what was assayed both are the figure.
    fineness_by = models.CharField(max_length=7, choices=FinenessBy, default=FinenessBy.MARKED)
    fine_low_ppm = models.PositiveIntegerField(null=True)
    fine_high_ppm = models.PositiveIntegerField(null=True)
    note = models.CharField(max_length=500, blank=True, default="")
    void = models.BooleanField(default=False)

    class Meta:
        ordering = ["received_on", "id"]
        indexes = [models.Index(fields=["material", "void", "received_on"], name="lot_by_material")]
        constraints = [
            check(
                "lot_fineness_between_its_ends",
                Q(fine_low_ppm__isnull=True, fine_high_ppm__isnull=True)
                | Q(fine_low_ppm__lte=F("fine_high_ppm"), fine_high_ppm__lte=1_000_000),
            )
        ]

    def __str__(self) -> str:
        return f"Lot {self.pk}"

    @property
    def is_fresh(self) -> bool:
        return self.origin in self.FRESH and self.melts_milli == 0

    @property
    def known_words(self) -> str:
        """ "somewhere from 800 to 925 of 1000, a guess", "880 of 1000, assayed": of metal that has a fineness."""
        if self.fineness_by == self.FinenessBy.GUESS and self.fine_low_ppm is not None:
            low, high = (PURITY.print(end) for end in (self.fine_low_ppm, self.fine_high_ppm))
            of_charge = ", for some of its charge was" if self.from_cast_id else ","
            return f"somewhere from {low} to {high} of 1000{of_charge} a guess"
        per_mille = f"{print_fineness(self.holder.fine_ug, self.holder.quantity)} of 1000"
        per_mille = per_mille if self.holder.quantity else "nothing is left of it to tell"
        if self.fineness_by == self.FinenessBy.GUESS:
            return f"{per_mille} as far as is known: nobody has proved it"
        return f"{per_mille}, {self.get_fineness_by_display()}"

    @property
    def fineness_is_guess(self) -> bool:
        return self.fineness_by == self.FinenessBy.GUESS

    @property
    def may_be_cleaned(self) -> bool:
        """Whether investment may be on it: failed castings, and buttons that lie together in a tin."""
        return self.origin == self.Origin.FAILED or (
            self.origin == self.Origin.CLEAN and self.tin_id is not None
        )

    @property
    def is_handed_in(self) -> bool:
        return self.origin == self.Origin.HANDED_IN

    @property
    def is_of_unknown_make(self) -> bool:
        """Metal that may be anything: a customer's, bought as scrap, or a jar that somebody guesses at."""
        is_guessed = self.from_cast_id is None and self.fine_low_ppm is not None and self.fineness_is_guess
        return is_guessed or self.is_handed_in or self.material.form == Material.Form.SCRAP


class FinenessNote(models.Model):
    """What was said of a lot's fineness with an entry: a guess as it came in, or an assay.

    Its ends are in parts per million, the same for a figure; none where nothing but the kind of word was given.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="fineness_notes")
    entry = models.ForeignKey("Entry", models.PROTECT, related_name="fineness_notes")
    fineness_by = models.CharField(max_length=7, choices=Lot.FinenessBy)
    low_ppm = models.PositiveIntegerField(null=True)
    high_ppm = models.PositiveIntegerField(null=True)
    by_whom = models.CharField(max_length=80, blank=True, default="")
    paper = models.CharField(max_length=60, blank=True, default="")
    goes_on = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            check(
                "finenessnote_between_its_ends",
                Q(low_ppm__isnull=True, high_ppm__isnull=True)
                | Q(low_ppm__lte=F("high_ppm"), high_ppm__lte=1_000_000),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_fineness_by_display()}, {self.lot}"


class CarriedOn(models.Model):
    """What an assay of a lot was carried on to, because metal of the lot was in it: the crucible of a cast, a lot made
    of lots, a batch."""

    note = models.ForeignKey(FinenessNote, models.PROTECT, related_name="carried_on")
    holder = models.ForeignKey("Holder", models.PROTECT, related_name="assays_carried_on")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.note} in {self.holder}"
