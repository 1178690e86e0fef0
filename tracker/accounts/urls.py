"""Signing in and out, the own password, and which station to look at.

Of allauth only these views are mounted: nobody signs up, and an address is changed by
whoever keeps the people of a station. Its form views would take PUT for POST.
"""

from allauth.account import views as allauth
from django.urls import path

from tracker.accounts import views

FORM = ["get", "post"]

urlpatterns = [
    path(
        "login/",
        allauth.LoginView.as_view(http_method_names=FORM),
        name="account_login",
    ),
    path(
        "logout/",
        allauth.LogoutView.as_view(http_method_names=FORM),
        name="account_logout",
    ),
    path("off/", allauth.AccountInactiveView.as_view(), name="account_inactive"),
    path(
        "password/",
        allauth.PasswordChangeView.as_view(http_method_names=FORM),
        name="account_change_password",
    ),
    path(
        "password/reset/",
        allauth.PasswordResetView.as_view(http_method_names=FORM),
        name="account_reset_password",
    ),
    path(
        "password/reset/sent/",
        allauth.PasswordResetDoneView.as_view(),
        name="account_reset_password_done",
    ),
    path(
        "password/reset/kept/",
        allauth.PasswordResetFromKeyDoneView.as_view(),
        name="account_reset_password_from_key_done",
    ),
    path(
        "password/reset/<str:uidb36>/<str:key>/",
        allauth.PasswordResetFromKeyView.as_view(http_method_names=FORM),
        name="account_reset_password_from_key",
    ),
    path("stations/", views.stations, name="account_stations"),
]
