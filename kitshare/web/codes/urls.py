"""Addresses of codes: short, since they are printed small and typed by hand."""

from django.urls import path

from kitshare.web.codes import views

app_name = "codes"
urlpatterns = [
    path("", views.enter, name="enter"),
    path("labels/", views.labels, name="labels"),
    path("labels/make/", views.make, name="make"),
    path("labels/sheet/", views.sheet, name="sheet"),
    path("<slug:text>/", views.card, name="card"),
]
