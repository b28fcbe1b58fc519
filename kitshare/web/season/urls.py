from django.urls import path

from kitshare.web.soon import soon

app_name = "season"
urlpatterns = [path("", soon, name="month")]
