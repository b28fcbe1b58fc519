from django.urls import path

from kitshare.web.reminders import views

app_name = "reminders"
urlpatterns = [
    path("", views.policy_list, name="list"),
    path("new/<slug:kind>/", views.row_new, name="new"),
    path("usual/", views.usual, name="usual"),
    path("<int:pk>/", views.row_change, name="change"),
    path("<int:pk>/switch/", views.switch, name="switch"),
]
