"""Addresses of the season, its feeds among them."""

from django.urls import path

from kitshare.web.season import feeds, views

app_name = "season"
urlpatterns = [
    path("", views.month, name="month"),
    path("feed/<slug:token>.ics", feeds.of_the_scheme, name="feed_scheme"),
    path("village-feed/<slug:token>.ics", feeds.of_a_village, name="feed_village"),
    path("kit-feed/<slug:token>.ics", feeds.of_a_kit, name="feed_kit"),
    path("own-feed/<slug:token>.ics", feeds.of_a_member, name="feed_member"),
]
