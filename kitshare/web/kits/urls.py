"""Addresses of the pages about kits, machines and parts."""

from django.urls import path

from kitshare.web.kits.views import kits, machines, parts, pictures, weights

app_name = "kits"
urlpatterns = [
    path("", kits.kit_list, name="list"),
    path("new/", kits.kit_new, name="new"),
    path("depots/new/", kits.depot_new, name="depot_new"),
    path("depots/<int:pk>/", kits.depot_change, name="depot_change"),
    path("<int:pk>/", kits.kit_show, name="show"),
    path("<int:pk>/change/", kits.kit_change, name="kit_change"),
    path("<int:pk>/retire/", kits.kit_retire, name="kit_retire"),
    path("<int:pk>/bring-back/", kits.kit_bring_back, name="kit_bring_back"),
    path("<int:pk>/feed/", kits.kit_feed, name="kit_feed"),
    path("<int:pk>/starter-list/", kits.kit_starter, name="kit_starter"),
    path("<int:pk>/order/", machines.kit_order, name="kit_order"),
    path("<int:pk>/machines/new/", machines.machine_new, name="machine_new"),
    path("machines/<int:pk>/", machines.machine_show, name="machine"),
    path("machines/<int:pk>/change/", machines.machine_change, name="machine_change"),
    path("machines/<int:pk>/figures/", machines.machine_figures, name="machine_figures"),
    path("machines/<int:pk>/weights/", weights.machine_weights, name="machine_weights"),
    path("machines/<int:pk>/retire/", machines.machine_retire, name="machine_retire"),
    path("machines/<int:pk>/bring-back/", machines.machine_bring_back, name="machine_bring_back"),
    path("machines/<int:pk>/order/", machines.machine_order, name="machine_order"),
    path("machines/<int:pk>/parts/new/", parts.part_new, name="part_new"),
    path("parts/<int:pk>/", parts.part_show, name="part"),
    path("parts/<int:pk>/change/", parts.part_change, name="part_change"),
    path("parts/<int:pk>/retire/", parts.part_retire, name="part_retire"),
    path("parts/<int:pk>/bring-back/", parts.part_bring_back, name="part_bring_back"),
    path("parts/<int:pk>/picture/", pictures.part_picture, name="part_picture"),
    path("parts/<int:pk>/picture/away/", pictures.part_picture_away, name="part_picture_away"),
    path("pictures/<uuid:key>.jpg", pictures.picture, name="picture"),
]
