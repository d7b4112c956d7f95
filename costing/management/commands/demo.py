"""Fill an empty database with the demo studio."""

import secrets
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from costing.management.demo.kiln_log import add_log
from costing.management.demo.pictures import add_pictures
from costing.management.demo.year import Year
from inventory.models import Studio

USER_NAME = "alder"


class Command(BaseCommand):
    help = "Load a year of invented work into an empty database, and a person to sign in with."

    def handle(self, *args: Any, **options: Any) -> None:
        if Studio.objects.exists() or User.objects.exists():
            raise CommandError("There is a studio in this database already; the demo needs an empty one.")
        self.stdout.write("Working through a year at the demo studio")
        with transaction.atomic():
            person = self._make_person()
            Year(timezone.localdate(), person).work(self.stdout.write)
            add_pictures(person)
            add_log(person)

    def _make_person(self) -> User:
        """A password of its own for each copy of the demo, so that none can be known in advance."""
        password = secrets.token_urlsafe(9)
        person = User.objects.create_user(USER_NAME, password=password)
        settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
        sheet = settings.VAR_DIR / "demo-sign-in.txt"
        sheet.unlink(missing_ok=True)
        sheet.touch(mode=0o600)
        sheet.write_text(f"Sign in as {USER_NAME} with the password {password}\n")
        return person
