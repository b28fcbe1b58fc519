"""Addresses of the first run, the scheme's settings and its seasons."""

from django.urls import path

from kitshare.web.setup import views

app_name = "setup"
urlpatterns = [
    path("", views.scheme, name="scheme"),
    path("feed/", views.scheme_feed, name="scheme_feed"),
    path("seasons/", views.season_list, name="seasons"),
    path("seasons/new/", views.season_new, name="season_new"),
    path("seasons/<int:pk>/", views.season_change, name="season_change"),
    path("first-run/", views.first_run, name="first_run"),
    path("what-next/", views.what_next, name="what_next"),
]
