"""The address of the first page."""

from django.urls import path

from kitshare.web.home import views

app_name = "home"
urlpatterns = [path("", views.home, name="home")]
