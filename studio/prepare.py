"""`python -m studio.prepare`: bring the database up to date; with `--demo`, fill an empty one with the demo."""

import os
import sys

import django
from django.core.exceptions import ImproperlyConfigured
from django.core.management import CommandError, call_command
from django.db import Error


def main(arguments: list[str]) -> None:
    if arguments not in ([], ["--demo"]):
        sys.exit("Use: python -m studio.prepare [--demo]")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    try:
        django.setup()
        call_command("migrate", interactive=False, verbosity=0)
        if arguments:
            load_demo()
    except (ImproperlyConfigured, CommandError) as error:
        sys.exit(str(error))
    except Error as error:
        sys.exit(f"The database cannot be used: {str(error).strip()}")
    except KeyboardInterrupt:
        sys.exit("Stopped. Nothing was loaded by halves: run the same command again.")


def load_demo() -> bool:
    """Load the demo into a studio that nobody uses yet; say whether it was loaded.

    A load is one transaction: stopped half way it leaves nothing behind, and the next start loads it again.
    """
    from django.contrib.auth import get_user_model

    if get_user_model().objects.exists():
        return False
    call_command("demo")
    return True


if __name__ == "__main__":
    main(sys.argv[1:])
