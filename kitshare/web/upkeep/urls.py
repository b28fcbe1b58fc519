"""Addresses of the workbench."""

from django.urls import path

from kitshare.web.upkeep import (
    care,
    fault_page,
    probes,
    season_work,
    shelf,
    shelf_things,
    testing,
    tests_file,
    views,
)
from kitshare.web.upkeep.deeds import DEEDS

app_name = "upkeep"
urlpatterns = [
    path("", views.workbench, name="workbench"),
    path("at-risk/", views.at_risk, name="at_risk"),
    path("due/", care.due, name="due"),
    path("due/calendar/", care.due_feed, name="due_feed"),
    path("plans/new/<int:pk>/", care.plan_new, name="plan_new"),
    path("plans/<int:pk>/", care.plan, name="plan"),
    path("plans/<int:pk>/change/", care.plan_change, name="plan_change"),
    path("plans/<int:pk>/end/", care.plan_end, name="plan_end"),
    path("plans/<int:pk>/record/", care.record, name="record"),
    path("season/", season_work.season_work, name="season_work"),
    path("season/kits/<int:pk>/", season_work.season_kit, name="season_kit"),
    path("season/machines/<int:pk>/<slug:occasion>/", season_work.season_list, name="season_list"),
    path("season/tasks/<int:pk>/back/", season_work.season_task_back, name="season_task_back"),
    path("probes/<int:pk>/", probes.probe_check, name="probe_check"),
    path("plans/<int:pk>/test/", testing.test_new, name="test_new"),
    path("tests/file/", tests_file.tests_file, name="tests_file"),
    path("tests/to-fill.csv", tests_file.tests_to_fill, name="tests_to_fill"),
    path("tests/rules/", testing.rules, name="rules"),
    path("tests/<int:pk>/", testing.test, name="test"),
    path("shelf/", shelf.shelf, name="shelf"),
    path("shelf/new/", shelf_things.shelf_new, name="shelf_new"),
    path("shelf/shortage/", shelf_things.shelf_shortage, name="shelf_shortage"),
    path("shelf/order/", shelf_things.order_list, name="order_list"),
    path("shelf/order.csv", shelf_things.order_file, name="order_file"),
    path("shelf/<int:pk>/", shelf.shelf_thing, name="shelf_thing"),
    path("shelf/<int:pk>/change/", shelf_things.shelf_change, name="shelf_change"),
    path("shelf/<int:pk>/retire/", shelf_things.shelf_retire, name="shelf_retire"),
    path("shelf/<int:pk>/bring-back/", shelf_things.shelf_bring_back, name="shelf_bring_back"),
    *(
        path(f"shelf/<int:pk>/{name.replace('_', '-')}/", shelf.shelf_deed, {"name": name}, name=f"shelf_{name}")
        for name in shelf.DEEDS
    ),
    path("reported/", views.reported, name="reported"),
    path("report/", views.report_where, name="report_where"),
    path("report/<int:pk>/", views.report, name="report"),
    path("<int:pk>/", fault_page.fault, name="fault"),
    path("<int:pk>/photo/", fault_page.photo_new, name="photo_new"),
    path("photos/<uuid:key>.jpg", fault_page.photo, name="photo"),
    *(path(f"<int:pk>/{name.replace('_', '-')}/", fault_page.deed, {"name": name}, name=name) for name in DEEDS),
]
