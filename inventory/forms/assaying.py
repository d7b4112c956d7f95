"""The form by which a fineness is put right: measured, or guessed between two ends."""

from typing import Any

from studio.kit.fields import ReadField

MEASURED_LABEL = "Measured fineness"
ENDS_LABELS = ("From", "To")
ASSAY_LABELS = ("Assayed by", "Number of the paper")


class PerMilleField(ReadField):
    """Parts per thousand, with tenths; cleans to parts per million."""

    kind = "purity"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(help_text=kwargs.pop("help_text", "Parts of 1000, such as 879.5."), **kwargs)
