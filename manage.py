#!/usr/bin/env python
"""The studio's commands: `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.conf import settings
    from django.core.management import execute_from_command_line

    from studio.starting import plainly

    with plainly():
        settings.SECRET_KEY  # noqa: B018 - read here, so that a bad setting is a sentence and not a trace
        execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
