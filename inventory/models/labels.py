"""Sheets of labels to stick on, as the studio buys them."""

from django.db import models

from studio.kit.labels import SheetShape
from studio.kit.models import check


class LabelSheet(models.Model):
    """How the labels lie on a sheet; lengths in micrometres."""

    name = models.CharField(max_length=60, unique=True)
    page_width_um = models.PositiveIntegerField(default=210_000)
    page_height_um = models.PositiveIntegerField(default=297_000)
    columns = models.PositiveSmallIntegerField(default=3)
    rows = models.PositiveSmallIntegerField(default=8)
    label_width_um = models.PositiveIntegerField(default=70_000)
    label_height_um = models.PositiveIntegerField(default=37_000)
    left_um = models.PositiveIntegerField(default=0)
    top_um = models.PositiveIntegerField(default=0)
    gap_across_um = models.PositiveIntegerField(default=0)
    gap_down_um = models.PositiveIntegerField(default=0)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            check("labelsheet_has_columns", columns__gte=1, columns__lte=50),
            check("labelsheet_has_rows", rows__gte=1, rows__lte=100),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def shape(self) -> SheetShape:
        return SheetShape(
            page_um=(self.page_width_um, self.page_height_um),
            columns=self.columns,
            rows=self.rows,
            label_um=(self.label_width_um, self.label_height_um),
            first_um=(self.left_um, self.top_um),
            gap_um=(self.gap_across_um, self.gap_down_um),
        )
