from django.urls import path

from kitshare.web.soon import soon

app_name = "setup"
urlpatterns = [path("", soon, name="scheme"), path("first-run/", soon, name="first_run")]
