"""Pictures of a thing: taken in at the bench, looked at large, given words, removed; and their files."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.forms.pictures import PictureForm, PicturesForm
from inventory.forms.sheet import Sheet
from inventory.models import Picture
from inventory.models.pictures import LINKS
from inventory.posting.pictures import remove_picture, take_in_pictures
from inventory.queries.pictures import find_picture, pictures_of
from studio.kit.photo_files import ENDINGS, photo_file
from studio.kit.views import or_404

from .saving import alone, answer, sent, show, signed_in_user
from .things import THINGS, Thing, thing_or_404


def _thing_of(picture: Picture) -> tuple[Thing, Any]:
    """What a picture is of."""
    kind = next(link for link in LINKS if getattr(picture, f"{link}_id") is not None)
    return THINGS[kind], getattr(picture, kind)


def _find_or_404(pk: int) -> Picture:
    return or_404(find_picture(pk), "There is no such picture.")


def _address_of_all(thing: Thing, record: Any) -> str:
    return reverse("inventory:picture-list", args=[thing.kind, thing.key_of(record)])


@require_http_methods(["GET", "HEAD", "POST"])
def show_pictures(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """All pictures of one thing, and the form that takes in more."""
    thing = thing_or_404(kind)
    if not thing.has_pictures:
        raise Http404
    record = thing.find(pk)
    form = PicturesForm(
        sent(request), request.FILES if request.method == "POST" else None, initial={"shows": thing.shows}
    )
    sheet = Sheet(form)

    def save() -> str:
        given, by = form.cleaned_data, signed_in_user(request)
        taken = take_in_pictures({kind: record}, form.photos, given["shows"], given["words"], by)
        messages.success(
            request, "The picture is kept." if len(taken) == 1 else f"{len(taken)} pictures are kept."
        )
        return _address_of_all(thing, record)

    context = {
        "thing": record,
        "title": thing.title(record),
        "address": thing.address(record),
        "pictures": pictures_of(**{kind: record}),
    }
    return answer(sheet, save) or show(request, "pictures/pictures.html", sheet, context)


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def show_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """A picture, large, and what is said of it."""
    picture = _find_or_404(pk)
    thing, record = _thing_of(picture)
    form = PictureForm(sent(request), instance=picture)
    context = {
        "picture": _find_or_404(pk) if form.is_bound else picture,
        "title": thing.title(record),
        "address": thing.address(record),
        "all_address": _address_of_all(thing, record),
    }
    sheet = Sheet(form)
    return answer(sheet, lambda: _save(request, form)) or show(
        request, "pictures/picture.html", sheet, context
    )


def _save(request: HttpRequest, form: PictureForm) -> str:
    picture = form.save()
    messages.success(request, "The words are kept.")
    return reverse("inventory:picture", args=[picture.pk])


@require_POST
@alone
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    picture = _find_or_404(pk)
    address = _address_of_all(*_thing_of(picture))
    remove_picture(picture)
    messages.success(request, "The picture is removed.")
    return redirect(address)


@require_safe
def show_file(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """The file of a picture, large or small."""
    if size not in ENDINGS:
        raise Http404
    picture = _find_or_404(pk)
    try:
        content = photo_file(picture.name, size).read_bytes()
    except OSError as gone:
        raise Http404 from gone
    return HttpResponse(content, content_type="image/jpeg")
