"""From take-in to paid."""

urlpatterns: list = []
