"""The ground floor: log in, set up, people and boards, the keeper's settings."""

from django.urls import path

from shop.views import bringing, health, journal, keeping, login, merging, people, photos, setup, staff

urlpatterns = [
    path("health/", health.health, name="health"),
    path("login/", login.log_in, name="login"),
    path("logout/", login.log_out, name="logout"),
    path("setup/", setup.setup, name="setup"),
    path("people/", people.customers, name="customers"),
    path("people/new/", people.customer_new, name="customer-new"),
    path("people/<int:pk>/", people.customer, name="customer"),
    path("people/<int:pk>/change/", people.customer_edit, name="customer-edit"),
    path("people/bring/", bringing.bring_new, name="people-bring-new"),
    path("people/bring/<int:pk>/", bringing.bring, name="people-bring"),
    path("people/<int:pk>/same/", merging.same, name="customer-same"),
    path("people/<int:customer>/same/<int:other>/", merging.make_one_of, name="customer-make-one"),
    path("people/<int:customer>/board/", people.board_new, name="board-new"),
    path("board/<int:pk>/", people.board, name="board"),
    path("board/<int:pk>/change/", people.board_edit, name="board-edit"),
    path("board/<int:board>/photo/", photos.photo_add, name="photo-add"),
    path("photo/<int:pk>/", photos.photo, name="photo"),
    path("photo/<int:pk>/small/", photos.photo_small, name="photo-small"),
    path("shop/", keeping.shop, name="shop"),
    path("shop/change/", keeping.shop_edit, name="shop-edit"),
    path("shop/address/", keeping.shop_address, name="shop-address"),
    path("shop/tax-rates/", keeping.tax_rates, name="tax-rates"),
    path("shop/tax-rates/<int:pk>/end/", keeping.tax_rate_end, name="tax-rate-end"),
    path("shop/labour-rates/", keeping.labour_rates, name="labour-rates"),
    path("shop/overheads/", keeping.overheads, name="overheads"),
    path("shop/closed-days/", keeping.closed_days, name="closed-days"),
    path("shop/closed-days/<int:pk>/open/", keeping.closed_day_open, name="closed-day-open"),
    path("shop/working-days/", keeping.working_days, name="working-days"),
    path("shop/series/", keeping.series, name="series"),
    path("shop/staff/", staff.staff, name="staff"),
    path("shop/staff/new/", staff.staff_new, name="staff-new"),
    path("shop/staff/<int:pk>/", staff.staff_edit, name="staff-edit"),
    path("shop/staff/<int:pk>/password/", staff.staff_password, name="staff-password"),
    path("shop/journal/", journal.journal, name="journal"),
]
