"""From one form of the set-up straight to the next, until a studio can cast."""

from django.contrib import messages
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html

from inventory.queries.setup import SetupStep, next_step, next_wish, setup_steps
from inventory.queries.studio import studio_of


def find_form(step: SetupStep) -> str:
    """The address of the form on which the first of what a step lacks is written down; "" where it lacks nothing."""
    return reverse(step.form[0], args=step.form[1:]) if step.form and not step.is_done else ""


def with_wish(request: HttpRequest, said: str) -> str:
    """What was done, with the way to what is worth saying next where all that a cast needs is there."""
    steps = setup_steps(studio_of(request))
    wish = None if next_step(steps) else next_wish(steps)
    if wish is None:
        return said
    return format_html('{} Next: <a href="{}">{}</a>', said, find_form(wish), wish.action)


def go_on(request: HttpRequest, said: str, otherwise: str) -> str:
    """Say what was saved, and lead on to the form of what the set-up lacks next; `otherwise` where that is no form."""
    coming = next_step(setup_steps(studio_of(request)))
    address = find_form(coming) if coming is not None else ""
    if coming is not None and address:
        said = f"{said} Next: {coming.action[:1].lower()}{coming.action[1:]}."
    messages.success(request, said)
    return address or otherwise
