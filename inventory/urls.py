"""The store."""

from django.urls import path

from inventory.views import catalogue, movements, store

urlpatterns = [
    path("", store.store, name="store"),
    path("material/new/", catalogue.material_new, name="material-new"),
    path("material/<int:pk>/", store.material, name="material"),
    path("material/<int:pk>/edit/", catalogue.material_edit, name="material-edit"),
    path("material/<int:pk>/retire/", catalogue.material_retire, name="material-retire"),
    path("material/<int:pk>/receive/", movements.receive, name="receive"),
    path("material/<int:pk>/use/", movements.use, name="use"),
    path("material/<int:pk>/write-off/", movements.write_off, name="write-off"),
    path("material/<int:pk>/pack/", catalogue.pack_new, name="pack-new"),
    path("pack/<int:pk>/", catalogue.pack_edit, name="pack-edit"),
    path("pack/<int:pk>/price/", catalogue.pack_price, name="pack-price"),
    path("receive/", movements.receive, name="receive"),
    path("movement/<int:pk>/undo/", movements.movement_reverse, name="movement-reverse"),
    path("questions/", store.questions, name="questions"),
    path("questions/<int:pk>/", store.question_answer, name="question-answer"),
    path("suppliers/", catalogue.suppliers, name="suppliers"),
    path("suppliers/new/", catalogue.supplier_new, name="supplier-new"),
    path("suppliers/<int:pk>/", catalogue.supplier_edit, name="supplier-edit"),
]
