"""Addresses that belong to no subject."""

from django.urls import path

from studio.kit import views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("understood/", views.show_understood, name="understood"),
    path("theme/", views.choose_theme, name="theme"),
]
