"""Addresses of the waiting list and of what is offered to those on it."""

from django.urls import path

from kitshare.web.waiting import views

app_name = "waiting"
urlpatterns = [
    path("", views.waiting_list, name="list"),
    path("offers/<int:pk>/", views.offer, name="offer"),
    path("<int:pk>/leave/", views.leave, name="leave"),
    path("<int:pk>/order/", views.order, name="order"),
    path("<int:pk>/out-of-turn/", views.out_of_turn, name="out_of_turn"),
]
