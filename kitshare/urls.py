"""Every address of the site, by area."""

from django.urls import include, path

handler500 = "kitshare.web.troubles.went_wrong"

urlpatterns = [
    path("", include("kitshare.web.home.urls")),
    path("", include("kitshare.web.phone.urls")),
    path("", include("kitshare.web.watch.urls")),
    path("season/", include("kitshare.web.season.urls")),
    path("bookings/files/", include("kitshare.web.bringing.urls")),
    path("bookings/waiting/", include("kitshare.web.waiting.urls")),
    path("bookings/", include("kitshare.web.bookings.urls")),
    path("checks/", include("kitshare.web.checks.urls")),
    path("briefing/", include("kitshare.web.briefing.urls")),
    path("k/", include("kitshare.web.codes.urls")),
    path("kits/", include("kitshare.web.kits.urls")),
    path("workbench/", include("kitshare.web.upkeep.urls")),
    path("press-days/", include("kitshare.web.pressdays.urls")),
    path("heat/", include("kitshare.web.heat.urls")),
    path("people/", include("kitshare.web.people.urls")),
    path("post/reminders/", include("kitshare.web.reminders.urls")),
    path("post/", include("kitshare.web.post.urls")),
    path("works/", include("kitshare.web.works.urls")),
    path("logbook/", include("kitshare.web.logbook.urls")),
    path("scheme/", include("kitshare.web.setup.urls")),
]
