"""What makes the site one that a phone can keep."""

from django.urls import path

from kitshare.web.phone import views

app_name = "phone"
urlpatterns = [
    path("sw.js", views.worker, name="worker"),
    path("kitshare.webmanifest", views.manifest, name="manifest"),
    path("offline/", views.offline, name="offline"),
    path("phone/token/", views.token, name="token"),
]
