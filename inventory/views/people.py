"""The people who may sign in."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.contrib.auth.views import PasswordChangeView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse, reverse_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from inventory.forms.accounts import AccountForm, NewPasswordForm
from inventory.forms.sheet import Sheet
from inventory.queries.records import every
from inventory.tables.studio import PersonTable
from studio.kit.listing import ListingView
from studio.kit.tries import find_asker

from .saving import NAME_TAKEN, answer, sent, show


class PersonList(ListingView):
    title = "People who sign in"
    lead = "Each entry in the ledger says who made it. Everybody here may do everything."
    queryset = every(User).order_by("username")
    table_class = PersonTable
    press = ("Add a person", "inventory:person-new")
    ways = (("Change your own password", "inventory:password"),)


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def add_person(request: HttpRequest) -> HttpResponse:
    form = AccountForm(sent(request))
    sheet = Sheet(form)
    taken = ("username", NAME_TAKEN[1])
    return answer(sheet, lambda: _add(request, form), taken) or show(request, "setup/person.html", sheet)


def _add(request: HttpRequest, form: AccountForm) -> str:
    messages.success(request, f"{form.save().username} may sign in now.")
    return reverse("inventory:person-list")


@require_http_methods(["GET", "HEAD"])
def show_person(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    return render(request, "setup/person_detail.html", {"person": person, "is_self": person == request.user})


@require_POST
def let_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Let somebody sign in no longer, or again. Nobody locks the door on themselves."""
    person = get_object_or_404(User, pk=pk)
    if person == request.user:
        messages.warning(request, "You cannot shut yourself out. Ask another person of the studio to do it.")
        return redirect("inventory:person-list")
    person.is_active = "again" in request.POST
    person.save(update_fields=["is_active"])
    done = "may sign in again" if person.is_active else "may no longer sign in"
    messages.success(request, f"{person.username} {done}.")
    return redirect("inventory:person-list")


class PasswordChange(PasswordChangeView):
    form_class = NewPasswordForm
    template_name = "setup/password.html"
    success_url = reverse_lazy("inventory:setup")

    def get_form_kwargs(self) -> dict[str, Any]:
        asker = find_asker(self.request, self.request.user.get_username())
        return {**super().get_form_kwargs(), "asker": asker}

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        messages.success(self.request, "Your password is changed.")
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        return show(self.request, self.template_name, Sheet(form), self.get_context_data(form=form))
