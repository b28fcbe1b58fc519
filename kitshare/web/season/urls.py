"""Addresses of the season, its feeds among them."""

from django.urls import path

from kitshare.web.season import closed_days, feeds, figures, moving, shifting, views

app_name = "season"
urlpatterns = [
    path("", views.month, name="month"),
    path("day/", views.day, name="day"),
    path("whole/", views.whole, name="whole"),
    path("figures/", figures.figures, name="figures"),
    path("figures/copy.csv", figures.figures_copy, name="figures_copy"),
    path("move/<int:pk>/", moving.move, name="move"),
    path("shift/", shifting.shift, name="shift"),
    path("filters/", views.filter_choice, name="filters"),
    path("closed-days/", closed_days.closed_days, name="closed_days"),
    path("closed-days/close/<slug:kind>/", closed_days.close, name="close"),
    path("closed-days/<int:pk>/open/", closed_days.open_again, name="open_again"),
    path("holidays/", closed_days.holidays, name="holidays"),
    path("feed/<slug:token>.ics", feeds.of_the_scheme, name="feed_scheme"),
    path("village-feed/<slug:token>.ics", feeds.of_a_village, name="feed_village"),
    path("kit-feed/<slug:token>.ics", feeds.of_a_kit, name="feed_kit"),
    path("own-feed/<slug:token>.ics", feeds.of_a_member, name="feed_member"),
    path("upkeep-feed/<slug:token>.ics", feeds.of_the_upkeep, name="feed_upkeep"),
]
