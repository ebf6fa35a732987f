"""The ground floor's pages and sample rows."""

from __future__ import annotations

from datetime import date

from shop.bringing import lists as bringing
from shop.business import calendar_addresses, shop_settings
from shop.models import TaxRate
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.shop import rows as make
from tests.walker import EVERYBODY, KEEPER, MONEY, STAFF, Page, Rows, pages, sample


@sample
def customer(rows: Rows):
    return make.customer(rows.keeper, phone="+353 20 910 0144", email="niamh@strand.example")


@sample
def twice(rows: Rows):
    other = make.customer(rows.keeper, "Niamh Ó Sé", phone="020 910 0144", email="niamh@strand.example")
    return {"customer": rows["customer"].pk, "other": other.pk}


@sample
def people_list(rows: Rows):
    text = "name;phone;board;length;width\nAoife Marlin;020 910 0611;Fish;5'6\";20 in\n;;Egg;7';21 in\n"
    return bringing.keep_people(name="people.csv", text=text, signed=Signed(rows.keeper, NOW))


@sample
def board(rows: Rows):
    return make.board(rows.keeper, rows["customer"])


@sample
def photo(rows: Rows):
    return make.photo(rows.keeper, rows["board"])


@sample
def tax_rate(rows: Rows):
    return TaxRate.objects.filter(for_repairs=False).first()


@sample
def closed_day(rows: Rows):
    (day,) = shop_settings.close_days(signed=Signed(rows.keeper, NOW), first=date(2030, 12, 25), reason="Christmas")
    return day


@sample
def person(rows: Rows):
    return rows.users["bench"]


@sample
def calendar_address(rows: Rows):
    return calendar_addresses.make_address(name="Orla’s phone", signed=Signed(rows.keeper, NOW))


pages(
    Page("health", EVERYBODY),
    Page("login", EVERYBODY, get=302, get_by_nobody=200),
    Page("logout", STAFF, get=405),
    Page("setup", EVERYBODY, get=302),
    Page("customers", MONEY),
    Page("customer-new", MONEY, form=True),
    Page("customer", MONEY, "customer"),
    Page("customer-edit", MONEY, "customer", form=True),
    Page("customer-same", MONEY, "customer"),
    Page("customer-make-one", MONEY, "twice", form=True),
    Page("people-bring-new", MONEY, form=True),
    Page("people-bring", MONEY, "people_list", form=True),
    Page("board-new", MONEY, "customer", form=True),
    Page("board", STAFF, "board"),
    Page("board-edit", MONEY, "board", form=True),
    Page("photo-add", STAFF, "board", form=True),
    Page("photo", STAFF, "photo"),
    Page("photo-small", STAFF, "photo"),
    Page("shop", KEEPER),
    Page("shop-edit", KEEPER, form=True),
    Page("shop-address", KEEPER, form=True),
    Page("tax-rates", KEEPER, form=True),
    Page("tax-rate-end", KEEPER, "tax_rate", form=True),
    Page("labour-rates", KEEPER, form=True),
    Page("overheads", KEEPER, form=True),
    Page("closed-days", KEEPER, form=True),
    Page("closed-day-open", KEEPER, "closed_day", get=405),
    Page("working-days", KEEPER, get=302),
    Page("bench-hours", KEEPER),
    Page("bench-hours-of", KEEPER, "person", form=True),
    Page("calendar-addresses", KEEPER, form=True),
    Page("calendar-address-back", KEEPER, "calendar_address", get=302),
    Page("series", KEEPER, form=True),
    Page("staff", KEEPER),
    Page("staff-new", KEEPER, form=True),
    Page("staff-edit", KEEPER, "person", form=True),
    Page("staff-password", KEEPER, "person", form=True),
    Page("journal", KEEPER),
)
