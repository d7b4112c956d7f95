"""From one form of the set-up straight to the next, until a studio can cast."""

from django.contrib import messages
from django.http import HttpRequest
from django.urls import reverse

from inventory.queries.setup import SetupStep, next_step, setup_steps
from inventory.queries.studio import studio_of


def find_form(step: SetupStep) -> str:
    """The address of the form on which the first of what a step lacks is written down; "" where it lacks nothing."""
    return reverse(step.form[0], args=step.form[1:]) if step.form and not step.is_done else ""


def go_on(request: HttpRequest, said: str, otherwise: str) -> str:
    """Say what was saved, and lead on to the form of what the set-up lacks next; `otherwise` where that is no form."""
    coming = next_step(setup_steps(studio_of(request)))
    address = find_form(coming) if coming is not None else ""
    if coming is not None and address:
        said = f"{said} Next: {coming.action[:1].lower()}{coming.action[1:]}."
    messages.success(request, said)
    return address or otherwise
