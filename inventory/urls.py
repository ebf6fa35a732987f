"""The store."""

urlpatterns: list = []
