"""Addresses of the pages about people."""

from django.urls import path

from kitshare.web.people import views

app_name = "people"
urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", views.SignOut.as_view(), name="sign_out"),
    path("me/", views.me, name="me"),
    path("villages/", views.villages, name="villages"),
    path("members/", views.members, name="members"),
]
