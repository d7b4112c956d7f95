"""The form that asks before an entry is reversed."""

from studio.kit.fields import LineField
from studio.kit.forms import OnceMixin, StudioForm


class ReversalForm(OnceMixin, StudioForm):
    note = LineField(
        label="Why", required=False, max_length=500, help_text="A few words for whoever reads this next year."
    )
