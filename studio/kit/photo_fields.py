"""The field that takes pictures, from a phone's camera or from its files; it cleans to what is kept of them."""

from threading import Lock
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.kit.photos import NotAPicture, Photo, read_photo

MOST_AT_ONCE = 10
MOST_BYTES_AT_ONCE = 48_000_000
# One picture is unpacked at a time, or four people at once could ask for more memory than there is.
_one_at_a_time = Lock()


class PhotosInput(forms.FileInput):
    """`camera` opens a phone's camera instead of its files; several are chosen at once otherwise."""

    allow_multiple_selected = True

    def __init__(self, camera: bool = False) -> None:
        # A phone that keeps another format turns it into one of these where they are named.
        accept = "image/*" if camera else "image/jpeg,image/png,image/webp"
        # A camera takes one at a time; asked for several, some phones open their files instead.
        way = {"capture": "environment", "multiple": False} if camera else {"multiple": True}
        super().__init__({"accept": accept, **way})


class PhotosField(forms.Field):
    """Some pictures, as a list of `Photo`; [] where none was sent."""

    def __init__(self, *, camera: bool = False, **kwargs: Any) -> None:
        super().__init__(required=False, widget=PhotosInput(camera), **kwargs)

    def to_python(self, value: Any) -> list[Photo]:
        files = [file for file in value or () if file]
        if len(files) > MOST_AT_ONCE:
            raise ValidationError(f"Send at most {MOST_AT_ONCE} pictures at once.")
        if sum(file.size for file in files) > MOST_BYTES_AT_ONCE:
            raise ValidationError("These files are too large to be sent at once. Send fewer.")
        photos, wrong = [], []
        for file in files:
            try:
                with _one_at_a_time:
                    photos.append(read_photo(file, file.size))
            except NotAPicture as refused:
                wrong.append(f"{file.name}: {refused}" if len(files) > 1 else str(refused))
        if wrong:
            raise ValidationError(wrong)
        return photos
