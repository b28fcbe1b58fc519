"""Address of the logbook."""

from django.urls import path

from kitshare.web.logbook import views

app_name = "logbook"
urlpatterns = [path("", views.logbook_list, name="list")]
