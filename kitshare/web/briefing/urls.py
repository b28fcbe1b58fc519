"""Addresses of the briefing: read and confirmed, who has done so, and the scheme's own words."""

from django.urls import path

from kitshare.web.briefing import views

app_name = "briefing"
urlpatterns = [
    path("", views.read, name="read"),
    path("for/<int:pk>/", views.member, name="member"),
    path("who/", views.who, name="who"),
    path("words/", views.words, name="words"),
]
