"""A copy of the whole studio, handed to the browser."""

import tempfile
from pathlib import Path
from threading import Lock

from django.conf import settings
from django.contrib import messages
from django.db import connection
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods

from inventory.copies.keeping import DOUBTFUL, copy_name, write_copy

# The registered type: https://www.iana.org/assignments/media-types/application/vnd.sqlite3
_TYPE = "application/vnd.sqlite3"
PROBLEMS_SHOWN = 20
# Four clicks would keep all threads of the server at it.
_one_at_a_time = Lock()


@cache_control(private=True, no_store=True)
@require_http_methods(["GET", "HEAD", "POST"])
def keep_copy(request: HttpRequest) -> HttpResponseBase:
    """Say what a copy is for; then make one, prove it, and hand it over. A doubtful one only when asked twice."""
    if request.method != "POST":
        return render(request, "setup/copy.html", {"set_first": _set_first()})
    if not _one_at_a_time.acquire(blocking=False):
        messages.warning(request, "A copy is being made just now. Try once more in a moment.")
        return redirect("inventory:copy")
    try:
        return _hand_over(request)
    finally:
        _one_at_a_time.release()


def _hand_over(request: HttpRequest) -> HttpResponseBase:
    settings.VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    # For its owner only, and gone when it is closed: after the last byte, or when the browser has hung up.
    draft = tempfile.NamedTemporaryFile(dir=settings.VAR_DIR, prefix=".draft-")  # noqa: SIM115 - the answer closes it
    try:
        problems = write_copy(Path(draft.name)).problems
        if not problems or "anyway" in request.POST:
            name = copy_name(DOUBTFUL if problems else "")
            return FileResponse(draft, as_attachment=True, filename=name, content_type=_TYPE)
    except BaseException:
        draft.close()
        raise
    draft.close()
    return _show_doubt(request, problems)


def _set_first() -> str:
    """What has to be set before a command finds this studio and not the one beside it; "" for the usual place."""
    if connection.vendor != "sqlite":
        return "DATABASE_URL=… "
    file = Path(connection.settings_dict["NAME"])
    return "" if file == settings.VAR_DIR / "studio.sqlite3" else f"STUDIO_DB={file} "


def _show_doubt(request: HttpRequest, problems: list[str]) -> HttpResponse:
    more = max(0, len(problems) - PROBLEMS_SHOWN)
    shown = {"problems": problems[:PROBLEMS_SHOWN], "more": more, "set_first": _set_first()}
    return render(request, "setup/copy.html", shown, status=409)
