"""Addresses of the set-up, the first page of an empty studio, and help."""

from django.urls import path

from inventory.views import (
    alloys,
    checklist,
    contacts,
    copies,
    day_practice,
    equipment,
    help,
    people,
    records,
    schedules,
    setup,
    welcome,
)

urlpatterns = [
    path("welcome/", welcome.welcome, name="welcome"),
    path("help/", help.show_help, name="help"),
    path("setup/", setup.show_setup, name="setup"),
    path("setup/studio/", setup.edit_studio, name="studio-edit"),
    path("setup/starters/", setup.add_starters, name="starters"),
    *alloys.Alloys.urls(),
    *contacts.Suppliers.urls(),
    *contacts.Customers.urls(),
    *equipment.AllEquipment.urls(),
    *schedules.Schedules.urls(),
    path("setup/schedules/<whole:pk>/", schedules.show_schedule, name="schedule"),
    path("setup/day/", day_practice.edit_practice, name="day-practice"),
    path("setup/checklist/", checklist.show_checklist, name="checklist"),
    *checklist.ChecklistLines.record_urls(),
    path("setup/checklist/begin/", checklist.begin_with_common, name="checklist-begin"),
    path("setup/checklist/<whole:pk>/move/", checklist.move_line, name="checklist-move"),
    path("setup/checklist/<whole:pk>/remove/", checklist.remove_line, name="checklist-remove"),
    path("setup/people/", people.PersonList.as_view(), name="person-list"),
    path("setup/people/new/", people.add_person, name="person-new"),
    path("setup/people/<whole:pk>/", people.show_person, name="person"),
    path("setup/people/<whole:pk>/let-in/", people.let_in, name="person-let-in"),
    path("setup/copy/", copies.keep_copy, name="copy"),
    path("setup/password/", people.PasswordChange.as_view(), name="password"),
    path("setup/<str:what>/<whole:pk>/archive/", records.archive, name="archive"),
]
