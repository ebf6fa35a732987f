"""What came on one note, and what it cost to get it here."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory.buying.orders import place_order, still_to_come
from inventory.models import Delivery, Lot, Material, Movement, Pack, PackPrice, Supplier
from inventory.receiving.deliveries import DeliveryLine, take_in
from inventory.receiving.landed import landed
from inventory.stock import books
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY
from tests.reading import says

money = st.integers(0, 10**9).map(lambda n: D(n).scaleb(-4))


@given(st.lists(money, min_size=1, max_size=8).filter(sum), st.integers(-(10**8), 10**8).map(lambda n: D(n).scaleb(-4)))
def test_shares_add_up_to_what_is_shared(weights, extra):
    more = landed([D(10**6)] * len(weights), extra, weights)
    shares = [one - D(10**6) for one in more]
    assert sum(shares) == extra
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - extra * weight / sum(weights)) < D("0.0001")


def test_nothing_can_not_be_shared_over_nothing():
    for weights in ([], [D(0)], [D(2), D(-1)]):
        with pytest.raises(ValueError, match="share by"):
            landed([D(1)] * len(weights), D(5), weights)
    with pytest.raises(ValueError, match="more than what the line cost"):
        landed([D(5), D(5)], D(-11))


@pytest.fixture
def packs(shelf) -> dict[str, Pack]:
    drum = shelf.price("20 kg drum", "20000", "96.00")
    cloth = Material.objects.create(key="cloth", name="Cloth", kind="cloth", unit="m2", areal_weight_g_m2=D(200))
    roll = Pack.objects.create(material=cloth, supplier=drum.supplier, words="50 m² roll", content=D(50))
    return {"drum": drum, "roll": roll}


def took(shelf, packs, lines=None, keep_prices=False, **entries):
    delivery = Delivery(supplier=packs["drum"].supplier, received_on=TODAY, **{"currency": "EUR", **entries})
    lines = lines or [DeliveryLine(packs["drum"], 1, D(100)), DeliveryLine(packs["roll"], 1, D(300))]
    return take_in(delivery=delivery, lines=lines, keep_prices=keep_prices, signed=Signed(shelf.by, NOW))


def test_freight_is_shared_by_what_things_cost(shelf, packs):
    drum, roll = took(shelf, packs, freight=D(40), note="LS-1")
    assert (drum.value_left, roll.value_left) == (D(110), D(330))
    assert {lot.delivery.note for lot in Lot.objects.all()} == {"LS-1"}
    assert books.problems() == []


def test_freight_is_shared_by_what_things_weigh(shelf, packs):
    # 20 kg of resin, 50 m² of 200 g/m² = 10 kg of cloth
    drum, roll = took(shelf, packs, freight=D(40), duty=D(5), discount=D(15), spread_by="weight")
    assert (drum.value_left, roll.value_left) == (D(120), D(310))


def test_a_purchase_in_another_currency(shelf, packs):
    # (100 + 300 + 40) at 1.17
    drum, roll = took(shelf, packs, freight=D(40), currency="GBP", rate=D("1.17"), keep_prices=True)
    assert drum.value_left + roll.value_left == D("514.80")
    assert PackPrice.objects.in_force(TODAY).get(pack=packs["drum"]).price == D(117)  # freight is no part of it


def test_a_discount_of_more_than_it_cost_stores_nothing(shelf, packs):
    with pytest.raises(Refused, match="cannot be shared"):
        took(shelf, packs, discount=D(500))
    assert not Delivery.objects.exists()
    assert not Movement.objects.exists()


def test_what_has_no_weight_can_not_share_by_weight(shelf, packs):
    Material.objects.filter(key="cloth").update(areal_weight_g_m2=None)
    packs["roll"].material.refresh_from_db()
    with pytest.raises(Refused, match="without its weight per square metre"):
        took(shelf, packs, freight=D(40), spread_by="weight")
    assert not Lot.objects.exists()


@pytest.fixture
def send(shelf, packs, keeper_client, form_key):
    address = reverse("delivery-new", args=[packs["drum"].supplier_id])
    usual = {"received_on": TODAY.isoformat(), "tax": "none", "spread_by": "value", "currency": "EUR", "rate": "1"}

    def post(**entries):
        named = {name.replace("drum", str(packs["drum"].pk)).replace("roll", str(packs["roll"].pk)): value
                 for name, value in entries.items()}  # fmt: skip
        return keeper_client.post(address, {**usual, "submission_key": form_key(), **named})

    post.page = lambda: says(keeper_client.get(address))
    return post


def test_a_delivery_from_the_screen(send, shelf):
    assert send(count_drum="2", count_roll="1", price_roll="300", freight="24,60", note="LS-9").status_code == 302
    # 192 by the list and 300; 24.60 shared 192 : 300
    assert shelf.value == D("201.60")
    assert Lot.objects.get(material__key="cloth").value_left == D("315.00")
    again = send(count_drum="1", note="ls-9")
    assert again.status_code == 422
    assert "was entered before" in says(again)
    assert send(count_drum="1", note="ls-9", odd_note="on").status_code == 302


@pytest.fixture
def on_order(shelf, packs):
    """Two drums and a roll, of which the drums were expected first."""
    return [
        *place_order(packs={packs["drum"]: 2}, ordered_on=TODAY - timedelta(days=9), signed=Signed(shelf.by, NOW)),
        *place_order(packs={packs["roll"]: 1}, ordered_on=TODAY - timedelta(days=2), signed=Signed(shelf.by, NOW)),
    ]


@pytest.mark.usefixtures("on_order")
def test_a_delivery_starts_from_what_is_on_order(send, shelf, packs):
    page = send.page()
    assert page.index("2 × 20 kg drum") < page.index("1 × 50 m² roll")
    assert send(came_drum="2", price_roll="", note="LS-9").status_code == 302
    assert shelf.on_hand == 40_000
    assert still_to_come(packs["drum"].supplier, TODAY) == {packs["roll"].pk: 1}
    assert "20 kg drum" not in send.page(), "it came, and is not asked for twice"


@pytest.mark.usefixtures("on_order")
def test_what_came_otherwise_goes_before_the_tick(send, shelf, packs):
    assert send(came_drum="2", count_drum="1", price_drum="90").status_code == 302
    assert (shelf.on_hand, shelf.value) == (20_000, 90)
    assert still_to_come(packs["drum"].supplier, TODAY) == {packs["drum"].pk: 1, packs["roll"].pk: 1}


@pytest.mark.usefixtures("on_order")
def test_a_tick_is_of_what_the_page_said_and_a_second_tap_of_it_books_nothing(send, shelf, packs, form_key):
    tap = {"came_drum": "2", "note": "LS-9", "submission_key": form_key()}
    assert [send(**tap).status_code for _ in range(2)] == [302, 302]
    assert shelf.on_hand == 40_000
    meanwhile = send(came_drum="2", note="LS-10")
    assert (meanwhile.status_code, shelf.on_hand) == (302, 80_000), "an order that came meanwhile drops nothing ticked"


def test_what_is_not_on_order_is_searched_for_and_nothing_typed_is_lost(send, packs):
    assert "50 m² roll" not in send.page()
    page = says(send(find="1", q="ROLL clo", note="LS-9", freight="4,50", count_drum="2", price_drum="x"))
    assert f'name="count_{packs["roll"].pk}"' in page
    for value in ("LS-9", "4,50", "2", "x", "ROLL clo"):
        assert f'value="{value}"' in page
    assert "Error: " not in page
    assert not Delivery.objects.exists()
    form = send(find="1", q="", count_drum="2").context["form"]
    assert (form["keep_prices"].value(), [pack.words for pack in form.packs]) == (False, ["20 kg drum"])
    assert "is called “paint”" in says(send(find="1", q="paint"))


def test_of_many_that_are_found_eight_are_shown(send, packs):
    drum = packs["drum"]
    Pack.objects.bulk_create(
        Pack(material=drum.material, supplier=drum.supplier, words=f"{n} kg pail", content=D(n)) for n in range(1, 20)
    )
    answer = send(find="1", q="pail")
    assert len(answer.context["form"].packs) == 8
    assert "11 more; add a word" in says(answer)


def test_suppliers_who_still_have_to_bring_something_stand_first(keeper_client, on_order):
    Supplier.objects.create(name="Aardvark Abrasives")
    page = says(keeper_client.get(reverse("receive")))
    assert page.index("Slipway Supplies") < page.index("Aardvark Abrasives")
    assert "2 on order" in page


BAD = [
    ({}, None),
    ({"came_roll": "1"}, "price_roll"),
    ({"count_drum": "0"}, "count_drum"),
    ({"count_drum": "1.5"}, "count_drum"),
    ({"price_drum": "5"}, "count_drum"),
    ({"count_roll": "1"}, "price_roll"),
    ({"count_drum": "1", "currency": "ZZZ"}, "currency"),
    ({"count_drum": "1", "rate": "1.2"}, "rate"),
    ({"count_drum": "1", "rate": "nothing"}, "rate"),
    ({"count_drum": "1", "freight": "-4"}, "freight"),
    ({"count_drum": "1", "discount": "500"}, "discount"),
    ({"count_drum": "1", "use_by_drum": "2020-01-01"}, "use_by_drum"),
    ({"count_drum": "1", "received_on": "2999-01-01"}, "received_on"),
]  # fmt: skip


@pytest.mark.parametrize(("entries", "field"), BAD)
def test_a_wrong_delivery_is_named_and_nothing_is_stored(send, packs, entries, field):
    answer = send(**entries)
    assert answer.status_code == 422
    errors = list(answer.context["form"].errors)
    wanted = field and field.replace("drum", str(packs["drum"].pk)).replace("roll", str(packs["roll"].pk))
    assert errors == [wanted or "__all__"]
    assert not Lot.objects.exists()
    assert not Delivery.objects.exists()


def test_an_offcut_is_a_lot_with_a_size_at_no_cost(keeper_client, packs, form_key):
    cloth = packs["roll"].material
    entries = {"origin": "reclaimed", "length": "700 mm", "width": "40 cm", "received_on": TODAY.isoformat(), "tax": "none",
               "pack": "loose", "count": "1", "submission_key": form_key()}  # fmt: skip
    assert keeper_client.post(reverse("receive", args=[cloth.pk]), entries).status_code == 302
    lot = Lot.objects.get()
    assert (lot.quantity_left, lot.value_left, lot.length_mm, lot.width_mm) == (D("0.28"), D(0), D(700), D(400))
    assert "700" in says(keeper_client.get(reverse("lot", args=[lot.pk])))
    half = {**entries, "width": "", "submission_key": form_key()}
    assert keeper_client.post(reverse("receive", args=[cloth.pk]), half).status_code == 422


def test_the_bench_takes_no_delivery(bench_client, packs):
    assert bench_client.get(reverse("delivery-new", args=[packs["drum"].supplier_id])).status_code == 403


def test_received_before_today(shelf, packs):
    [lot] = took(shelf, packs, lines=[DeliveryLine(packs["drum"], 1, D(100), TODAY + timedelta(days=188))])
    assert lot.good_until == TODAY + timedelta(days=188)
