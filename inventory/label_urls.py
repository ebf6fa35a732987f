"""What is printed in labels' codes: short and in capitals, so it is never changed."""

from django.urls import path

from inventory.views import labels

urlpatterns = [path("<str:code>", labels.scanned, name="scanned")]
