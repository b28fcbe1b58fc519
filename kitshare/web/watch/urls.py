"""Addresses that programs ask. The middleware `AskedByPrograms` answers them before anything else is looked at."""

from django.urls import path

from kitshare.web.watch import views

app_name = "watch"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("ready/", views.ready, name="ready"),
    path("ready/all/", views.well, name="well"),
]
