"""The ledger: who holds what, and every movement from one holder to another."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class Holder(models.Model):
    """Somewhere that quantity, fine metal and cost can be: a lot, a crucible, a piece, a batch, or the outside world.

    The running balance of a lot, crucible, piece or batch is kept here and proved by the audit. The outside world
    takes grams, items and millilitres alike, so its balance has no meaning and is not kept.
    """

    class Kind(models.TextChoices):
        LOT = "lot", "lot"
        CRUCIBLE = "crucible", "crucible"
        PIECE = "piece", "piece"
        BATCH = "batch", "batch at a refiner"
        OUTSIDE = "outside", "outside"

    class Place(models.TextChoices):
        """Named places of the outside world."""

        SUPPLIER = "supplier", "supplier"
        OPENING = "opening", "opening stock"
        CUSTOMER = "customer", "customer"
        USED = "used", "used in the work"
        LOST = "lost", "lost"
        COUNTED = "counted", "found or missing at a count"
        SCRAPPED = "scrapped", "thrown away"
        ALLOYED = "alloyed", "precious metal alloyed into another"
        LATE = "late", "late bills on stock already used"
        REFINER = "refiner", "paid out or kept by refiners"
        REF_LOST = "ref_lost", "lost at the refiner"
        REF_ASSAY = "ref_assay", "assay difference at the refiner"
        ASSAY = "assay", "put right by assay"

    kind = models.CharField(max_length=8, choices=Kind)
    place = models.CharField(max_length=10, choices=Place, blank=True, default="")
    quantity = models.BigIntegerField(default=0)
    fine_ug = models.BigIntegerField(default=0)
    cost_micro = models.BigIntegerField(default=0)
    # The latest day on which anything moved: an entry on or after it cannot upset an earlier day.
    latest_day = models.DateField(null=True)

    class Meta:
        # Most holders of a studio of some years are used up; what is on the shelf is asked for on every page.
        indexes = [
            models.Index(fields=["kind"], condition=Q(quantity__gt=0), name="holder_with_something"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["place"], condition=Q(kind="outside"), name="holder_one_of_each_place"
            ),
            models.CheckConstraint(
                condition=(Q(kind="outside") & ~Q(place="")) | (~Q(kind="outside") & Q(place="")),
                name="holder_place_is_outside",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gte=0, fine_ug__gte=0, cost_micro__gte=0), name="holder_not_below_zero"
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0) | Q(fine_ug=0, cost_micro=0), name="holder_empty_holds_no_value"
            ),
        ]

    def __str__(self) -> str:
        return self.get_place_display() if self.place else f"{self.kind} holder {self.pk}"


class Entry(models.Model):
    """One posting: what happened, on which of the studio's days. Never changed once written."""

    class Kind(models.TextChoices):
        DELIVERY = "delivery", "delivery"
        OPENING = "opening", "opening stock"
        HANDED_IN = "handed_in", "customer's metal handed in"
        LATE_BILL = "late_bill", "late bill"
        TREE = "tree", "tree"
        POWDER = "powder", "investing"
        CHARGE = "charge", "charge"
        CLOSE = "close", "weights after the pour"
        FINISH = "finish", "finishing"
        MELT_BACK = "melt_back", "piece back to the pot"
        SALE = "sale", "piece sold"
        RETURN = "return", "piece came back"
        USE = "use", "taken from stock"
        COUNT = "count", "stock count"
        SCRAP = "scrap", "thrown away"
        HAND_BACK = "hand_back", "customer's metal handed back"
        TOP_UP = "top_up", "metal passed to a customer"
        FOUND = "found", "metal found later"
        CLEANED = "cleaned", "weighed without investment"
        TOGETHER = "together", "put together in a tin"
        APART = "apart", "taken out of a tin"
        SEND = "send", "metal sent to a refiner"
        SETTLE = "settle", "refiner's settlement"
        SENT_BACK = "sent_back", "metal sent back by a refiner"
        ASSAY = "assay", "fineness put right"
        REVERSAL = "reversal", "reversal"

    kind = models.CharField(max_length=10, choices=Kind)
    day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    cast = models.ForeignKey("inventory.Cast", models.PROTECT, null=True, related_name="entries")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, null=True, related_name="entries")
    bill_for = models.ForeignKey(
        "inventory.Delivery", models.PROTECT, null=True, related_name="late_bills", db_index=False
    )
    reverses = models.OneToOneField("self", models.PROTECT, null=True, related_name="reversed_by")
    # An entry that was mended is written again: what this one stands for now, and that one's place in the book.
    replaces = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="replaced_by", db_index=False
    )
    turn = models.BigIntegerField(null=True)
    line_count = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ["-day", "-id"]
        verbose_name_plural = "entries"
        indexes = [
            models.Index(fields=["-day", "-id"], name="entry_newest_first"),
            # Few entries are bills: an index of all would say that a delivery has as many as there are entries.
            models.Index(fields=["bill_for"], condition=Q(bill_for__isnull=False), name="entry_late_bill"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(line_count__gte=1), name="entry_moves_something"),
            models.UniqueConstraint(
                fields=["replaces"], condition=Q(replaces__isnull=False), name="entry_replaced_once"
            ),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True, turn__isnull=True)
                | Q(replaces__isnull=False, turn__isnull=False),
                name="entry_written_again_has_its_turn",
            ),
            models.CheckConstraint(
                condition=(Q(kind="reversal") & Q(reverses__isnull=False))
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="entry_reversal_names_its_entry",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, entry {self.pk}"


class Movement(models.Model):
    """One line of an entry: an amount that leaves `source` and enters `target`.

    What leaves one holder enters another because both stand in the same row: an entry cannot be out of balance.
    """

    class What(models.TextChoices):
        """What a line is for, where an entry has several sorts."""

        GOODS = "goods", "goods"
        CHARGES = "charges", "carriage, duty and tax"
        PIECE = "piece", "piece"
        BACK = "back", "button and sprues"
        FAILED = "failed", "failed casting"
        SPILL = "spill", "spill"
        FILINGS = "filings", "filings"
        LOSS = "loss", "lost"
        PATTERN = "pattern", "pattern material"
        ASSAY = "assay", "assay"
        METAL = "metal", "back as metal"
        PAID = "paid", "paid in money"
        KEPT = "kept", "kept by the refiner"

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="movements")
    line = models.PositiveSmallIntegerField()
    source = models.ForeignKey(Holder, models.PROTECT, related_name="movements_out")
    target = models.ForeignKey(Holder, models.PROTECT, related_name="movements_in")
    day = models.DateField()
    what = models.CharField(max_length=8, choices=What)
    quantity = models.BigIntegerField()
    fine_ug = models.BigIntegerField()
    cost_micro = models.BigIntegerField()
    seal = models.CharField(max_length=16)

    class Meta:
        indexes = [
            models.Index(fields=["source", "day"], name="movement_source_day"),
            models.Index(fields=["target", "day"], name="movement_target_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["entry", "line"], name="movement_line_once"),
            models.CheckConstraint(
                condition=Q(quantity__gte=0, fine_ug__gte=0, cost_micro__gte=0),
                name="movement_not_below_zero",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0) | Q(fine_ug__gt=0) | Q(cost_micro__gt=0),
                name="movement_moves_something",
            ),
            models.CheckConstraint(condition=~Q(source=F("target")), name="movement_goes_elsewhere"),
        ]

    def __str__(self) -> str:
        return f"line {self.line} of entry {self.entry_id}"


class OnceKey(models.Model):
    """The one-time key of a form that was posted, and where its result is: a second click finds it here."""

    key = models.UUIDField(primary_key=True)
    result_url = models.CharField(max_length=200)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return str(self.key)
