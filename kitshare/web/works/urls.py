"""Addresses of long works: how far each is, what it made, and leaving it off."""

from django.urls import path

from kitshare.web.works import views

app_name = "works"
urlpatterns = [
    path("", views.work_list, name="list"),
    path("<uuid:key>/", views.show, name="show"),
    path("<uuid:key>/cancel/", views.cancel, name="cancel"),
    path("<uuid:key>/file/", views.file, name="file"),
]
