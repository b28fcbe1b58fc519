"""The page of the site, and addresses that programs ask: these the middleware `AskedByPrograms` answers at once."""

from django.urls import path

from kitshare.web.watch import pages, trying, views

app_name = "watch"
urlpatterns = [
    path("status/", pages.status, name="status"),
    path("status/back-up/", pages.back_up, name="back_up"),
    path("status/try/", trying.choose, name="try"),
    path("status/try/<str:name>/", trying.look, name="try_one"),
    path("health/", views.health, name="health"),
    path("ready/", views.ready, name="ready"),
    path("metrics/", views.metrics, name="metrics"),
    path("ready/all/", views.well, name="well"),
]
