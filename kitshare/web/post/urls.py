from django.urls import path

from kitshare.web.post import call_views, dead_views, stopping_views, views

app_name = "post"
urlpatterns = [
    path("", views.post_list, name="list"),
    path("calls/", call_views.calls, name="calls"),
    path("failed/", dead_views.failed, name="failed"),
    path("failed/again/", dead_views.failed_again, name="failed_again"),
    path("reminders/stop/<str:token>/", stopping_views.stop_reminders, name="stop_reminders"),
    path("<int:pk>/", views.show, name="show"),
    path("<int:pk>/told/", call_views.told, name="told"),
    path("<int:pk>/not-told/", call_views.not_told, name="not_told"),
    path("<int:pk>/again/", views.again, name="again"),
]
