"""The ground floor: log in, set up, people, settings."""

urlpatterns: list = []
