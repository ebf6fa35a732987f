"""A shelf is counted while the work goes on; nothing is booked without a yes, and nothing that moved is swallowed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from inventory.counting import weighing
from inventory.counting.counts import add_found, book_count, enter_line, explained, start_count, undo_difference
from inventory.models import Container, Count, Lot, Material, Movement, Weighing
from inventory.stock import books
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW


@pytest.fixture
def counted(shelf):
    """Counts of shelf A1: `enter` says what is there of the only lot, `book` says yes to all."""
    lot = shelf.receive("1000", "5.00")

    class Counted:
        count = start_count(shelf="A1", everything=False, blind=True, signed=Signed(shelf.by, NOW))

        def enter(self, loose: str, **more):
            entries = {"packs": 0, "loose": D(loose), "gross_g": {}, "signed": shelf.signed(), **more}
            return enter_line(line=self.count.lines.get(lot=lot), **entries)

        def book(self):
            lines = self.count.lines.values_list("pk", flat=True)
            return book_count(count=self.count, lines=list(lines), signed=shelf.signed())

    Counted.lot = lot
    return Counted()


def test_a_difference_is_booked_only_on_a_yes(counted, shelf):
    counted.enter("900")
    assert shelf.on_hand == 1000
    [booked] = counted.book()
    assert (booked.kind, booked.quantity, booked.value) == ("difference", D(-100), D("-0.50"))
    assert shelf.on_hand == 900
    assert books.problems() == []


def test_what_moves_after_the_moment_of_counting_is_not_swallowed(counted, shelf):
    counted.enter("900")
    shelf.use("250")
    shelf.receive("500", "3.00")
    counted.book()
    assert shelf.on_hand == 1150  # 900 were there, 250 went, 500 came


def test_what_was_put_right_since_the_count_is_not_booked_a_second_time(counted, shelf):
    wrong = shelf.use("20")[0]
    counted.enter("800")  # 200 had really gone
    shelf.undo(wrong)
    shelf.use("200", happened_at=wrong.happened_at)
    assert counted.book() == [], "the books say now what was counted"
    assert shelf.on_hand == 800


def test_a_delivery_entered_twice_and_undone_leaves_no_difference(counted, shelf):
    lot = shelf.receive("1000", "5.00")
    count = start_count(shelf="A1", everything=False, blind=True, signed=shelf.signed())
    enter_line(line=count.lines.get(lot=lot), packs=0, loose=D(0), gross_g={}, signed=shelf.signed())
    shelf.undo(lot.movements.get())
    lines = list(count.lines.values_list("pk", flat=True))
    assert book_count(count=count, lines=lines, signed=shelf.signed()) == []
    assert shelf.on_hand == 1000
    assert books.problems() == []


def test_the_page_of_differences_says_what_the_books_say_now(counted, shelf, keeper_client):
    wrong = shelf.use("20")[0]
    counted.enter("1000")
    page = keeper_client.get(reverse("count-result", args=[counted.count.pk])).content.decode()
    assert "20\u00a0g" in page
    shelf.undo(wrong)
    page = keeper_client.get(reverse("count-result", args=[counted.count.pk])).content.decode()
    assert "All that was counted is as it should be." in page


def test_a_count_on_paper_is_entered_for_the_time_it_was_made(counted, shelf):
    first = shelf.signed().at
    shelf.use("250", recorded_at=first)
    later = Signed(shelf.by, NOW + timedelta(hours=1))
    line = counted.enter("900", happened_at=first - timedelta(minutes=1), signed=later)
    assert line.expected == 1000
    counted.book()
    assert shelf.on_hand == 650


def test_more_used_since_than_was_found_asks_for_another_count(counted, shelf):
    counted.enter("100")
    shelf.use("950")
    with pytest.raises(Refused, match="Count it again"):
        counted.book()
    assert not Movement.objects.filter(kind="difference").exists()
    assert Count.objects.open().exists()


def test_a_count_is_closed_once(counted, shelf):
    counted.enter("900")
    counted.book()
    with pytest.raises(Refused, match="closed already"):
        counted.book()
    with pytest.raises(Refused, match="closed"):
        counted.enter("800")
    assert shelf.on_hand == 900


def test_unticked_and_uncounted_lines_stay_as_they_were(counted, shelf):
    other = shelf.receive("500", "1.00")
    count = start_count(shelf="A1", everything=False, blind=False, signed=shelf.signed())
    enter = {"packs": 0, "gross_g": {}, "signed": shelf.signed()}
    enter_line(line=count.lines.get(lot=counted.lot), loose=D(10), **enter)
    assert book_count(count=count, lines=[], signed=shelf.signed()) == []
    other.refresh_from_db()
    assert (other.quantity_left, shelf.on_hand) == (D(500), D(1500))


def test_what_no_lot_accounts_for_gets_one_at_replacement_price(counted, shelf):
    shelf.price("1 kg tin", "1000", "10.00")
    catalyst = Material.objects.create(key="mekp", name="Catalyst", kind="hardener", unit="mL", shelf="A1")
    add_found(count=counted.count, material=catalyst, quantity=D(80), signed=shelf.signed())
    add_found(count=counted.count, material=shelf.material, quantity=D(200), signed=shelf.signed())
    counted.book()
    assert Lot.objects.get(material=catalyst).quantity_left == 80
    assert Lot.objects.get(origin="found", material=shelf.material).value_left == D("2.00")
    assert books.problems() == []


def test_packs_containers_and_loose_stuff_add_up(shelf):
    drum = shelf.price("5 kg drum", "5000", "30.00")
    lot = shelf.receive("15000", "90.00", pack=drum)
    container = weighing.add_container(lot=lot, name="drum", tare_g=D(450), holds=D(5000), signed=shelf.signed())
    count = start_count(shelf="", everything=True, blind=True, signed=shelf.signed())
    line = enter_line(
        line=count.lines.get(), packs=1, loose=D(120), gross_g={container: D(3950)}, signed=shelf.signed()
    )
    assert line.counted == 8620  # 5000, 120, and 3950 less 450
    assert line.typed.replace("\u00a0", " ") == "1 × 5 kg drum, 120 g, drum 3950 g gross"
    assert Weighing.objects.last().net == 3500
    assert explained([line])[line.pk] == "No single entry explains it; count it once more."


def test_below_the_tare_and_below_nothing_are_refused(counted, shelf):
    container = Container.objects.create(lot=counted.lot, tare_g=D(450))
    with pytest.raises(Refused, match="at least what the drum weighs empty"):
        counted.enter("0", gross_g={container: D(449)})
    with pytest.raises(Refused):
        counted.enter("-1")
    assert counted.count.lines.get().counted is None


def test_the_bench_counts_and_the_counter_books(counted, shelf, bench):
    shelf.by = bench
    counted.enter("900")
    with pytest.raises(PermissionDenied):
        counted.book()


def test_a_blind_count_on_a_phone(shelf, keeper_client, bench_client, form_key):
    shelf.receive("777", "5.00")
    sent = {"shelf": "shelf A1", "blind": "on", "submission_key": form_key()}
    count_page = bench_client.post(reverse("counts"), sent)["Location"]
    line = Count.objects.get().lines.get()
    for address in (count_page, reverse("count-line", args=[line.pk])):
        assert b"777" not in bench_client.get(address).content
    bench_client.post(reverse("count-line", args=[line.pk]), {"loose": "0,7 kg", "submission_key": form_key()})
    result = reverse("count-result", args=[line.count_id])
    seen = bench_client.get(result).content.decode()
    assert "777" in seen
    assert "€" not in seen
    assert bench_client.post(result, {"line": line.pk, "submission_key": form_key()}).status_code == 200
    assert shelf.on_hand == 777
    assert "−" in keeper_client.get(result).content.decode() or "-€0.50" in keeper_client.get(result).content.decode()
    keeper_client.post(result, {"line": line.pk, "submission_key": form_key()})
    assert shelf.on_hand == 700
    assert b"booked" in keeper_client.get(result).content


BAD_LINES = [({}, "type 0"), ({"loose": "-5"}, "below zero"), ({"loose": "5 m"}, "counted in grams"),
             ({"loose": "5", "counted_at": "soon"}, "like 14:30"), ({"packs": "1.5", "loose": "5"}, "whole number")]  # fmt: skip


@pytest.mark.parametrize(("entries", "words"), BAD_LINES)
def test_a_wrong_count_is_named_and_not_stored(shelf, bench_client, form_key, entries, words):
    drum = shelf.price("5 kg drum", "5000", "30.00")
    shelf.receive("777", "5.00", pack=drum)
    count = start_count(shelf="A1", everything=False, blind=True, signed=Signed(shelf.by, NOW))
    line = count.lines.get()
    answer = bench_client.post(reverse("count-line", args=[line.pk]), {**entries, "submission_key": form_key()})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    line.refresh_from_db()
    assert line.counted is None


def test_counts_take_as_many_queries_with_1_line_as_with_60(shelf, keeper_client, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def asked() -> list[int]:
        count = start_count(shelf="A1", everything=False, blind=False, signed=Signed(shelf.by, NOW))
        line = count.lines.first()
        for one in count.lines.all():
            enter_line(line=one, packs=0, loose=D(5), gross_g={}, signed=Signed(shelf.by, NOW))
        addresses = [reverse("counts"), reverse("count", args=[count.pk]), reverse("count-line", args=[line.pk]),
                     reverse("count-result", args=[count.pk])]  # fmt: skip
        numbers = []
        for address in addresses:
            with CaptureQueriesContext(connection) as queries:
                keeper_client.get(address)
            numbers.append(len(queries))
        return numbers

    shelf.receive("10", "1.00", recorded_at=NOW)
    few = asked()
    for _ in range(59):
        shelf.receive("10", "1.00", recorded_at=NOW)
    assert asked() == few


def test_undoing_a_booked_difference_puts_it_back(counted, shelf):
    counted.enter("900")
    [booked] = counted.book()
    undo_difference(line=booked.count_line, signed=shelf.signed())
    assert shelf.on_hand == 1000
