"""The studio as one callable, for any WSGI server."""

import os
from collections.abc import Callable, Iterable
from typing import Any

from django.core.wsgi import get_wsgi_application
from django.utils.http import parse_header_parameters

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")

_Application = Callable[[dict[str, Any], Any], Iterable[bytes]]
OTHER_LETTERS = (
    "What was sent is not written in UTF-8, which is all that the studio reads. Nothing was changed."
    " Go back and send it from the studio's own page."
)


def refuse_other_letters(application: _Application) -> _Application:
    """Answer a body in another charset here: Django would read the whole request by it, address and all."""

    def answer(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        if is_in_utf8(environ.get("CONTENT_TYPE", "")):
            return application(environ, start_response)
        kind = ("Content-Type", "text/plain; charset=utf-8")
        headers = [kind, ("X-Content-Type-Options", "nosniff"), ("Cache-Control", "no-store")]
        start_response("415 Unsupported Media Type", headers)
        return [OTHER_LETTERS.encode()]

    return answer


def is_in_utf8(content_type: str) -> bool:
    """Whether a body of this type is in UTF-8, said or unsaid; what cannot be read is not."""
    try:
        _, parameters = parse_header_parameters(content_type)
    except (ValueError, LookupError):
        return False
    return parameters.get("charset", "utf-8").lower() in ("utf-8", "utf8")


application = refuse_other_letters(get_wsgi_application())
