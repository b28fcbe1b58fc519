"""Addresses of the workbench."""

from django.urls import path

from kitshare.web.upkeep import views
from kitshare.web.upkeep.deeds import DEEDS

app_name = "upkeep"
urlpatterns = [
    path("", views.workbench, name="workbench"),
    path("at-risk/", views.at_risk, name="at_risk"),
    path("report/", views.report_where, name="report_where"),
    path("report/<int:pk>/", views.report, name="report"),
    path("<int:pk>/", views.fault, name="fault"),
    *(path(f"<int:pk>/{name.replace('_', '-')}/", views.deed, {"name": name}, name=name) for name in DEEDS),
]
