"""Put it on the scale, and what is gone is booked: the easiest way to know what a mix really took."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from django.urls import reverse

from inventory.counting.weighing import add_container, empty_container, should_hold, weigh_after_use, weigh_as_check
from inventory.models import Container, Movement, Weighing
from inventory.stock import books
from shop.platform.acts import Refused
from tests.conftest import TODAY
from tests.inventory.conftest import Shelf


@pytest.fixture
def drum(shelf):
    lot = shelf.receive("20000", "100.00", received_on=TODAY)
    container = add_container(lot=lot, name="drum", tare_g=D(1200), holds=D(20000), signed=shelf.signed())

    class Drum:
        row = container

        def used(self, gross: str):
            return weigh_after_use(container=self.row, gross_g=D(gross), signed=shelf.signed())

        def check(self, gross: str):
            return weigh_as_check(container=self.row, gross_g=D(gross), signed=shelf.signed())

        @property
        def should(self):
            row = Container.objects.select_related("lot__material").get(pk=container.pk)
            return should_hold(row, row.weighings.last())

    return Drum()


def test_what_is_gone_since_the_last_weighing_was_used(drum, shelf):
    [out] = drum.used("20900")  # 21 200 g when full
    assert (out.quantity, out.value) == (D(-300), D("-1.50"))
    [out] = drum.used("20850")
    assert out.quantity == -50
    assert (shelf.on_hand, drum.should) == (D(19650), (19650, 19650))
    assert books.problems() == []


def test_what_was_entered_by_hand_is_not_booked_twice(drum, shelf):
    shelf.use("280")
    assert drum.should == (19720, 19720)
    [out] = drum.used("20900")
    assert out.quantity == -20
    assert shelf.on_hand == 19700


def test_a_use_that_was_undone_is_gone_from_the_drum_s_figure_too(drum, shelf):
    [out] = shelf.use("280")
    shelf.undo(out)
    assert drum.should == (20000, 20000)


@pytest.fixture
def two_drums(shelf):
    lot = shelf.receive("40000", "200.00", received_on=TODAY)
    own = {"lot": lot, "tare_g": D(1200), "holds": D(20000)}
    return [add_container(name=name, **own, signed=shelf.signed()) for name in ("first drum", "second drum")]


def test_what_went_out_of_one_drum_of_a_lot_is_not_missed_in_the_other(two_drums, shelf):
    first, second = two_drums
    weigh_after_use(container=first, gross_g=D(19200), signed=shelf.signed())
    assert weigh_as_check(container=second, gross_g=D(21200), signed=shelf.signed()) is None
    assert shelf.on_hand == 38000
    [out] = weigh_after_use(container=second, gross_g=D(20200), signed=shelf.signed())
    assert out.quantity == -1000
    assert shelf.on_hand == 37000
    assert books.problems() == []


def test_what_was_entered_by_hand_may_be_out_of_either_drum_and_books_nothing_twice(two_drums, shelf):
    first, second = two_drums
    shelf.use("2000")
    assert should_hold(second, second.weighings.last()) == (18000, 20000)
    assert weigh_as_check(container=second, gross_g=D(21200), signed=shelf.signed()) is None
    assert weigh_as_check(container=first, gross_g=D(19200), signed=shelf.signed()) is None
    with pytest.raises(Refused, match="just"):
        weigh_after_use(container=first, gross_g=D(19200), signed=shelf.signed())
    [out] = weigh_after_use(container=first, gross_g=D(18700), signed=shelf.signed())
    assert out.quantity == -500
    assert shelf.on_hand == 37500


def test_an_empty_drum_is_done_with_and_the_next_one_is_weighed_by_itself(two_drums, shelf):
    first, second = two_drums
    [out] = empty_container(container=first, signed=shelf.signed())
    assert out.quantity == -20000
    with pytest.raises(Refused, match="empty already"):
        empty_container(container=first, signed=shelf.signed())
    [out] = weigh_after_use(container=second, gross_g=D(20700), signed=shelf.signed())
    assert out.quantity == -500
    assert shelf.on_hand == 19500


def test_empty_is_one_button(drum, shelf, bench_client, form_key):
    address = reverse("container-empty", args=[drum.row.pk])
    assert bench_client.get(address)["Location"] == reverse("weigh", args=[drum.row.pk])
    assert "?act=" in bench_client.post(address, {"submission_key": form_key()})["Location"]
    assert shelf.on_hand == 0
    assert not Container.objects.filter(emptied_at__isnull=True).exists()
    again = bench_client.post(address, {"submission_key": form_key()}, follow=True)
    assert "is empty already" in again.content.decode()


def test_nothing_gone_is_nothing_used(drum):
    with pytest.raises(Refused, match="nothing was used"):
        drum.used("21200")
    with pytest.raises(Refused, match="more than what it should"):
        drum.used("21500")
    assert not Movement.objects.filter(kind="use").exists()


def test_a_check_books_the_difference_and_the_next_use_starts_from_it(drum, shelf):
    drum.check("21000")
    assert shelf.on_hand == 19800
    assert drum.check("21000") is None
    [out] = drum.used("20900")
    assert out.quantity == -100
    assert Movement.objects.filter(kind="difference").count() == 1


def test_lighter_than_empty_is_refused(drum):
    with pytest.raises(Refused) as refusal:
        drum.used("1199")
    assert refusal.value.messages[0].replace("\u00a0", " ") == (
        "Weight must be at least what the drum weighs empty, 1200 g."
    )
    assert Weighing.objects.count() == 1


def test_cloth_is_weighed_on_its_core_by_its_areal_weight(keeper):
    shelf = Shelf(keeper, key="cloth", unit="m2", kind="cloth", areal_weight_g_m2=D(200))
    lot = shelf.receive("10", "50.00")
    roll = add_container(lot=lot, name="roll", tare_g=D(400), holds=D(10), signed=shelf.signed(keeper))
    [out] = weigh_after_use(container=roll, gross_g=D(2300), signed=shelf.signed(keeper))
    assert out.quantity == D("-0.5")  # 100 g of 200 g/m² are gone


def test_what_can_not_be_turned_into_a_weight_says_which_fact_is_missing(keeper):
    shelf = Shelf(keeper, key="mekp", unit="mL", kind="hardener")
    lot = shelf.receive("500", "5.00")
    with pytest.raises(Refused, match="without its density"):
        add_container(lot=lot, name="bottle", tare_g=D(40), holds=D(500), signed=shelf.signed(keeper))


def test_the_scale_on_a_phone(drum, shelf, bench_client, form_key):
    address = reverse("weigh", args=[drum.row.pk])

    def send(**entries):
        return bench_client.post(address, {"submission_key": form_key(), **entries})

    answer = send(gross="20,9 kg", why="used", reason="fish")
    assert "?act=" in answer["Location"]
    assert shelf.on_hand == 19700
    asked = send(gross="20.8 kg", why="check")
    assert asked.status_code == 422
    assert "100\u00a0g less than it should" in asked.content.decode()
    assert shelf.on_hand == 19700
    assert send(gross="20.8 kg", why="check", odd_gross="on").status_code == 302
    assert shelf.on_hand == 19600
    for bad in ("", "1 kg", "12 m", "-3", "full"):
        assert send(gross=bad, why="used").status_code == 422
    assert shelf.on_hand == 19600


def test_a_new_container_is_shown_with_what_the_others_do_not_hold_and_asks_after_them_only_then(
    drum, shelf, keeper_client, form_key, django_assert_max_num_queries
):
    lot = drum.row.lot
    add_container(lot=lot, name="can", tare_g=D(300), holds=D(0), signed=shelf.signed())
    drum.used("11200")  # of 20 kg 10 kg are left, all in the drum
    shelf.receive("1", "1.00", received_on=TODAY)
    page = reverse("container-new", args=[lot.pk])
    assert keeper_client.get(page).context["form"]["holds"].value() == "0"
    with django_assert_max_num_queries(40) as asked:
        answer = keeper_client.post(page, {"name": "tin", "tare": "", "holds": "5 kg", "submission_key": form_key()})
    assert (answer.status_code, answer.context["form"]["holds"].value()) == (422, "5 kg")
    assert not [query for query in asked.captured_queries if "inventory_weighing" in query["sql"]]
