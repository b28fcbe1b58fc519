"""Addresses of the pages on which bookings come in from a file and go out as one."""

from django.urls import path

from kitshare.web.bringing import files, views

app_name = "bringing"
urlpatterns = [
    path("", views.start, name="start"),
    path("copies/", files.copies, name="copies"),
    path("copies/file/", files.copy, name="copy"),
    path("empty/<slug:kind>/", files.empty_table, name="empty_table"),
    path("<uuid:key>/", views.look, name="look"),
    path("<uuid:key>/bring/", views.bring, name="bring"),
    path("<uuid:key>/take-back/", views.take_back, name="take_back"),
    path("<uuid:key>/throw-away/", views.throw_away, name="throw_away"),
]
