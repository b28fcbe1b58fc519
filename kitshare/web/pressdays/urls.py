"""Addresses of the pages that size a press day."""

from django.urls import path

from kitshare.web.pressdays import card_views, clock_views, gave_views, supply_views, terms_views, views
from kitshare.web.pressdays import container_views as containers

app_name = "pressdays"
urlpatterns = [
    path("<int:booking_pk>/plan/", views.plan, name="plan"),
    path("<int:booking_pk>/plan/preview/", views.preview, name="preview"),
    path("<int:booking_pk>/gave/", gave_views.gave, name="gave"),
    path("gave/<int:pk>/", gave_views.gave_correct, name="gave_correct"),
    path("gave/<int:pk>/take-out/", gave_views.gave_take_out, name="gave_take_out"),
    path("<int:booking_pk>/clock/", clock_views.clock, name="clock"),
    path("<int:booking_pk>/clock/preview/", clock_views.clock_preview, name="clock_preview"),
    path("<int:booking_pk>/card/", card_views.card, name="card"),
    path("<int:booking_pk>/supply/", supply_views.supply_for_the_day, name="supply"),
    path("settings/", terms_views.terms, name="terms"),
    path("containers/", containers.kinds, name="kinds"),
    path("containers/new/", containers.kind_new, name="kind_new"),
    path("containers/starter-set/", containers.starter_kinds, name="starter_kinds"),
    path("containers/<int:pk>/", containers.kind_change, name="kind_change"),
    path("containers/<int:pk>/retire/", containers.kind_retire, name="kind_retire"),
    path("containers/<int:pk>/bring-back/", containers.kind_bring_back, name="kind_bring_back"),
]
