"""The site's addresses, and beside each measured page a floor: the same work without a template."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path

from kitshare.web.bookings import views as booking_views
from kitshare.web.home import views as home_views
from kitshare.web.season import views as season_views


def floor(module: Any, view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """The same view with the same rows, joined as text instead of drawn by a template."""

    def joined(request: HttpRequest, template: str, context: dict[str, Any], **options: Any) -> HttpResponse:
        return HttpResponse("\n".join(text_of(value) for value in context.values()))

    def floored(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        module.render = joined
        try:
            return view(request, *args, **kwargs)
        finally:
            module.render = render

    return floored


def text_of(value: Any) -> str:
    """Whatever a page was given, row by row, so that lazy rows are fetched here too."""
    if hasattr(value, "page"):  # a table
        return "\n".join(str(row.record) for row in value.paginated_rows)
    if isinstance(value, str):
        return value
    if hasattr(value, "__iter__"):
        return "\n".join(map(str, value))
    return str(value)


urlpatterns = [
    path("floor/home/", floor(home_views, home_views.home)),
    path("floor/season/", floor(season_views, season_views.month)),
    path("floor/bookings/", floor(booking_views, booking_views.booking_list)),
    path("floor/bookings/<int:pk>/", floor(booking_views, booking_views.show)),
    path("", include("kitshare.urls")),
]
