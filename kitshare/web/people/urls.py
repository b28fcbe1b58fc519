"""Addresses of the pages about people."""

from django.urls import path

from kitshare.web.people import hearing_views, member_views, views, village_views

app_name = "people"
urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", views.SignOut.as_view(), name="sign_out"),
    path("me/", views.me, name="me"),
    path("me/told/", hearing_views.own_hearing, name="own_hearing"),
    path("me/feed/", views.own_feed, name="own_feed"),
    path("me/password/", views.own_password, name="own_password"),
    path("villages/", village_views.villages, name="villages"),
    path("villages/new/", village_views.village_new, name="village_new"),
    path("villages/<int:pk>/", village_views.village, name="village"),
    path("villages/<int:pk>/change/", village_views.village_change, name="village_change"),
    path("villages/<int:pk>/leave/", village_views.village_leave, name="village_leave"),
    path("villages/<int:pk>/return/", village_views.village_return, name="village_return"),
    path("villages/<int:pk>/feed/", village_views.village_feed, name="village_feed"),
    path("members/", member_views.members, name="members"),
    path("members/new/", member_views.member_new, name="member_new"),
    path("members/<int:pk>/", member_views.member, name="member"),
    path("members/<int:pk>/told/", hearing_views.member_hearing, name="member_hearing"),
    path("members/<int:pk>/address-works/", member_views.member_address_works, name="member_address_works"),
    path("members/<int:pk>/change/", member_views.member_change, name="member_change"),
    path("members/<int:pk>/password/", member_views.member_password, name="member_password"),
]
