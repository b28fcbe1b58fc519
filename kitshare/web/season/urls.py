"""Addresses of the season."""

from django.urls import path

from kitshare.web.season import views

app_name = "season"
urlpatterns = [path("", views.month, name="month")]
