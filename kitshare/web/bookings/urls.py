"""Addresses of the pages about bookings."""

from django.urls import path

from kitshare.web.bookings import asking, relaying, signing, views

app_name = "bookings"
urlpatterns = [
    path("", views.booking_list, name="list"),
    path("new/", asking.new, name="new"),
    path("<int:pk>/", views.show, name="show"),
    path("<int:pk>/change/", asking.change, name="change"),
    path("<int:pk>/who-signs/", signing.sign_over, name="sign_over"),
    path("<int:pk>/agree/", views.agree, name="agree"),
    path("<int:pk>/decline/", views.decline, name="decline"),
    path("<int:pk>/call-off/", views.call_off, name="call_off"),
    path("<int:pk>/close/", views.close, name="close"),
    path("<int:pk>/relay/", relaying.relay_new, name="relay_new"),
    path("relay/<int:pk>/", relaying.relay_change, name="relay_change"),
    path("relay/<int:pk>/undo/", relaying.relay_undo, name="relay_undo"),
]
