"""Every address of the service."""

from django.urls import include, path

urlpatterns = [
    path("", include("quotes.urls")),
    path("store/", include("inventory.urls")),
    path("S/", include("inventory.label_urls")),
    path("", include("shop.shop_urls")),
]
handler400 = "shop.views.errors.bad_request"
handler403 = "shop.views.errors.forbidden"
handler404 = "shop.views.errors.not_found"
handler500 = "shop.views.errors.server_error"
