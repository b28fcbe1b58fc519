from django.urls import path

from kitshare.web.soon import soon

app_name = "upkeep"
urlpatterns = [
    path("", soon, name="workbench"),
    path("<int:pk>/", soon, name="fault"),
    path("report/<int:pk>/", soon, name="report"),
]
