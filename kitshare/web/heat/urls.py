"""Addresses of the pages about heat: records, labels, tracing and recalls."""

from django.urls import path

from kitshare.web.heat import adding, labels, looking, recalls, terms, tracing, views

app_name = "heat"
urlpatterns = [
    path("bookings/<int:booking_pk>/", views.batches, name="batches"),
    path("bookings/<int:booking_pk>/type/", adding.type_in, name="type_in"),
    path("bookings/<int:booking_pk>/paste/", adding.paste, name="paste"),
    path("bookings/<int:booking_pk>/upload/", adding.upload, name="upload"),
    path("look/<uuid:key>/", looking.look, name="look"),
    path("look/<uuid:key>/forget/", looking.forget, name="forget"),
    path("records/<int:pk>/", views.record, name="record"),
    path("records/<int:pk>/replace/", adding.replace, name="replace"),
    path("records/<int:pk>/readings/", views.readings, name="readings"),
    path("records/<int:pk>/labels/", labels.labels, name="labels"),
    path("", tracing.trace, name="trace"),
    path("recalls/", recalls.recalls, name="recalls"),
    path("recalls/new/", recalls.recall_new, name="recall_new"),
    path("recalls/<int:pk>/", recalls.recall, name="recall"),
    path("recalls/<int:pk>/end/", recalls.recall_end, name="recall_end"),
    path("terms/", terms.terms, name="terms"),
]
