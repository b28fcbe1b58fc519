from django.urls import path

from kitshare.web.soon import soon

app_name = "home"
urlpatterns = [path("", soon, name="home")]
