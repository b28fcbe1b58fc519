app_name = "checks"
urlpatterns: list[object] = []
