"""Addresses of a casting day, and of what is pressed at the bench on it."""

from django.urls import URLPattern, path

from inventory.views import bench_clock, checks, days

urlpatterns: list[URLPattern] = [
    path("days/<whole:pk>/", days.show_day, name="day"),
    path("days/<whole:pk>/calendar.ics", days.take_calendar, name="day-calendar"),
    path("casts/<whole:number>/clock/", bench_clock.show_clock, name="cast-clock"),
    path("casts/<whole:number>/checks/", checks.show_checks, name="cast-checks"),
]
