from django.urls import path

from kitshare.web.soon import soon

app_name = "bookings"
urlpatterns = [path("", soon, name="list"), path("new/", soon, name="new"), path("<int:pk>/", soon, name="show")]
