"""What many tests do: read what a page says, count its questions, run the audit."""

import html
import re
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.crypto import get_random_string

from studio.kit.working import Working

PASSWORD = "a hammer and tongs"


def made_for_file(make: Callable[[], object]) -> Any:
    """A fixture: what is made once for the tests of one file, each of which takes back what it writes."""

    @pytest.fixture(scope="module", name=make.__name__)
    def made(django_db_setup: None, django_db_blocker: Any) -> Iterator[object]:
        with django_db_blocker.unblock(), transaction.atomic():
            yield make()
            transaction.set_rollback(True)

    return made


def plain(text: str) -> str:
    """Printed text with the spaces that a person types."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def let_in(client: Client, user: User) -> None:
    """What `force_login` does, by one row in place of ten questions to the database: many tests begin with it."""
    says = {
        SESSION_KEY: str(user.pk),
        BACKEND_SESSION_KEY: settings.AUTHENTICATION_BACKENDS[0],
        HASH_SESSION_KEY: user.get_session_auth_hash(),
    }
    store = SessionStore()
    session = Session(get_random_string(32), store.encode(says), store.get_expiry_date())
    session.save(force_insert=True)
    client.cookies[settings.SESSION_COOKIE_NAME] = session.session_key


def text_of(response: HttpResponse) -> str:
    """What a page says."""
    return plain(response.content.decode())


def words_of(response: HttpResponse) -> str:
    """The same without its tags, as a person reads it."""
    return html.unescape(" ".join(re.sub(r"<[^>]+>", "", text_of(response)).split()))


def told(working: Working) -> str:
    """What a working says, a line for each of its parts."""
    lines = [f"{given.label}: {given.value} ({given.origin})" for given in working.givens]
    lines += [f"{step.text} = {step.result}" for step in working.steps]
    return plain("\n".join([working.title, working.formula, *lines, working.result, *working.notes]))


def once() -> dict[str, str]:
    """The field by which a form is taken once."""
    return {"once": str(uuid.uuid4())}


def count_queries(act: Callable[[], object]) -> int:
    """How often something asks the database."""
    with CaptureQueriesContext(connection) as asked:
        act()
    return len(asked)


def problems() -> list[str]:
    """All that the audit finds wrong in the book."""
    from inventory.audit import run_audit

    return [problem for finding in run_audit() for problem in finding.problems]
