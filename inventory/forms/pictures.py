"""Pictures sent in, and what is said of one."""

from typing import Any

from django import forms

from inventory.models import Picture
from studio.kit.fields import LineField
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.photo_fields import MOST_AT_ONCE, MOST_BYTES_AT_ONCE, PhotosField
from studio.kit.photos import Photo

_WORDS = "What can be seen"
_WORDS_HELP = "It is read aloud to whoever cannot see it, such as: the ring from the side, pits at the shank."


class PicturesForm(OnceMixin, StudioForm):
    """Some pictures of one thing; `shows` is what they are offered to show."""

    most_bytes = MOST_BYTES_AT_ONCE
    marks_optional = False

    taken = PhotosField(label="Take a picture", camera=True)
    chosen = PhotosField(
        label="Choose pictures", help_text=f"JPEG, PNG or WebP, up to {MOST_AT_ONCE} at once."
    )
    shows = forms.ChoiceField(label="It shows", choices=Picture.Shows.choices)
    words = LineField(label=_WORDS, required=False, help_text=_WORDS_HELP)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not {"taken", "chosen"} & set(self.errors) and not self.photos:
            self.add_error("chosen", "Take a picture, or choose one.")
        return cleaned

    @property
    def photos(self) -> list[Photo]:
        return [*self.cleaned_data["taken"], *self.cleaned_data["chosen"]]


class PictureForm(StudioModelForm):
    """What is said of a picture that is kept."""

    words = LineField(label=_WORDS, required=False, help_text=_WORDS_HELP)

    class Meta:
        model = Picture
        fields = ["shows", "words"]
        labels = {"shows": "It shows"}
