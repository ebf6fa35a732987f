"""The store."""

from django.urls import path

from inventory.views import buying, catalogue, counting, deliveries, hazards, lots, movements, planning, store, worth

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
    path("material/<int:pk>/label/", lots.material_label, name="material-label"),
    path("labels/", lots.shelf_labels, name="shelf-labels"),
    path("lot/<int:pk>/", lots.lot, name="lot"),
    path("lot/<int:pk>/edit/", lots.lot_edit, name="lot-edit"),
    path("lot/<int:pk>/test/", lots.shelf_test, name="shelf-test"),
    path("lot/<int:pk>/container/", lots.container_new, name="container-new"),
    path("lot/<int:pk>/label/", lots.lot_label, name="lot-label"),
    path("container/<int:pk>/weigh/", lots.weigh, name="weigh"),
    path("container/<int:pk>/label/", lots.container_label, name="container-label"),
    path("counts/", counting.counts, name="counts"),
    path("counts/<int:pk>/", counting.count, name="count"),
    path("counts/<int:pk>/found/", counting.count_found, name="count-found"),
    path("counts/<int:pk>/result/", counting.count_result, name="count-result"),
    path("counts/line/<int:pk>/", counting.count_line, name="count-line"),
    path("suppliers/<int:pk>/delivery/", deliveries.delivery_new, name="delivery-new"),
    path("suppliers/<int:pk>/prices/", deliveries.price_list_new, name="price-list-new"),
    path("prices/<int:pk>/", deliveries.price_list, name="price-list"),
    path("worth/", worth.stock_worth, name="stock-worth"),
]

# What work ahead reserves, what to order, what can hurt
urlpatterns += [
    path("plan/", planning.plan, name="plan"),
    path("material/<int:pk>/use-over-time/", planning.material_use, name="material-use"),
    path("buy/", buying.buy_list, name="buy-list"),
    path("buy/list.pdf", buying.buy_list_pdf, name="buy-list-pdf"),
    path("buy/rules/", buying.buying_rules, name="buying-rules"),
    path("buy/from/<int:supplier>/", buying.buy_list_order, name="buy-list-order"),
    path("buy/from/<int:supplier>/order.txt", buying.buy_list_text, name="buy-list-text"),
    path("buy/order/<int:pk>/close/", buying.order_close, name="order-close"),
    path("hazards/", hazards.hazards, name="hazards"),
    path("hazards/place/", hazards.place_edit, name="place-edit"),
    path("material/<int:pk>/safety/", hazards.data_sheet, name="data-sheet"),
    path("material/<int:pk>/safety/edit/", hazards.safety_edit, name="safety-edit"),
    path("sheet/<int:pk>.pdf", hazards.data_sheet_file, name="data-sheet-file"),
]
