"""Addresses of the checks at both ends of a booking."""

from django.urls import path

from kitshare.web.checks import pausing, photos, relaying, sent, views

app_name = "checks"
urlpatterns = [
    path("<int:pk>/", views.show, name="show"),
    path("pickup/<int:pk>/", views.pickup, name="pickup"),
    path("return/<int:pk>/", views.return_, name="return"),
    path("relay/<int:pk>/", relaying.relay, name="relay"),
    path("print/<int:pk>/", views.print_, name="print"),
    path("photos/<int:pk>/", photos.keep_photo, name="keep_photo"),
    path("pause/<str:kind>/<int:pk>/", pausing.pause, name="pause"),
    path("sent/", sent.sent_list, name="sent_list"),
    path("sent/<int:pk>/", sent.sent, name="sent"),
    path("photo/<uuid:key>.jpg", views.photo, name="photo"),
]
