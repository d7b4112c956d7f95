"""A form that is sent again after it was saved: a second press, or a page that the browser's Back brought up."""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import Resolver404, resolve
from django.utils.html import format_html


class SavedAlready(HttpResponseRedirect):
    """Leads on to what the form became when it was sent the first time."""


class SavedAlreadyMiddleware:
    """Says so on the page that it leads on to. It stands within that of the messages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if isinstance(response, SavedAlready):
            name = name_result(response.url)
            what = format_html(': <a href="{}">{}</a>', response.url, name) if name else ""
            said = format_html("Saved already{}. It was sent once more, and that changed nothing.", what)
            messages.warning(request, said)
        return response


def name_result(address: str) -> str:
    """ "cast 41", of an address that is named "cast-detail"; "" for any other."""
    try:
        found = resolve(urlsplit(address).path)
    except Resolver404:
        return ""
    noun, _, kind = (found.url_name or "").rpartition("-")
    keys = [str(key) for key in found.kwargs.values()]
    return f"{noun} {keys[0]}" if kind == "detail" and len(keys) == 1 else ""
