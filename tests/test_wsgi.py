"""The studio as a server calls it: what is sent in other letters than UTF-8 is met with a sentence."""

import io
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client

from studio.wsgi import OTHER_LETTERS, application, is_in_utf8

FORM, PARTS = "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"
ODD_TYPES = [
    *(f"{FORM}; charset=utf-7", f"{FORM}; charset=latin-1", f"{FORM}; charset=nonsense"),
    *(f"{FORM}; charset=hex", f"{FORM}; charset=undefined", f"{FORM}; charset=a\x00b"),
    *(f"{FORM}; charset*=x''%ff", f"{FORM}; charset*=utf-8''%ff", f"{FORM}; charset={'x' * 20_000}"),
    *(f"{PARTS}; charset=utf-7", f"{PARTS}; charset=hex", f"{PARTS}; charset=undefined"),
    "text/plain; charset=utf-16",
]


def send(method: str, content_type: str, body: bytes = b"username=\xff%ff+2AA-") -> tuple[int, str]:
    """The status and the text of the answer."""
    said: list[str] = []
    environ: dict[str, Any] = {
        "REQUEST_METHOD": method,
        "PATH_INFO": "/sign-in/",
        "QUERY_STRING": "next=%ff+2AA-",
        "CONTENT_TYPE": content_type,
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_HOST": "localhost",
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "wsgi.url_scheme": "http",
        "wsgi.input": io.BytesIO(body),
        "wsgi.errors": io.StringIO(),
    }
    text = b"".join(application(environ, lambda status, headers: said.append(status))).decode()
    return int(said[0].split()[0]), text


@pytest.mark.parametrize("content_type", ODD_TYPES)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_other_letters_than_utf8_are_refused_in_a_sentence(method: str, content_type: str) -> None:
    assert send(method, content_type) == (415, OTHER_LETTERS)


@pytest.mark.parametrize("content_type", ["", FORM, f"{FORM}; charset=UTF-8", f'{PARTS}; charset="utf8"'])
def test_utf8_said_or_unsaid_is_let_in(content_type: str) -> None:
    assert is_in_utf8(content_type)


@pytest.mark.django_db
@pytest.mark.parametrize("content_type", ["", FORM, f"{FORM}; charset=UTF-8", PARTS, "multipart/form-data"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_bytes_that_are_no_letters_break_no_page(client: Client, method: str, content_type: str) -> None:
    User.objects.create_user("mira")
    client.raise_request_exception = False
    answer = client.generic(method, "/sign-in/?next=%ff", b"username=\xff%ff&password=%ff", content_type)
    assert answer.status_code in (200, 400)
