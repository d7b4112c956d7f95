"""The form on which a person says what a report is to be about."""

from datetime import date

from studio.kit.forms import StudioForm


class ReportForm(StudioForm):
    """A form whose clean data is whole: `settled()` says what was asked in the words of an address."""

    marks_optional = False

    def settled(self) -> dict[str, str]:
        """Every parameter of a valid form as text that reads back to it; those left open are not there."""
        texts = {}
        for name, field in self.fields.items():
            value = self.cleaned_data.get(name)
            if isinstance(value, date):
                texts[name] = value.isoformat()
            elif value is not None:
                texts[name] = str(field.prepare_value(value))
        return texts
