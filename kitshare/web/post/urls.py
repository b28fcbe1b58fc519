from django.urls import path

from kitshare.web.post import stopping_views, views

app_name = "post"
urlpatterns = [
    path("", views.post_list, name="list"),
    path("reminders/stop/<str:token>/", stopping_views.stop_reminders, name="stop_reminders"),
    path("<int:pk>/", views.show, name="show"),
    path("<int:pk>/told/", views.told, name="told"),
    path("<int:pk>/again/", views.again, name="again"),
]
