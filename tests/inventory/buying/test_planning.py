"""Reservations move nothing but are counted on: what is free by day, what will be missing, and what is usual."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.buying import planning
from inventory.buying.history import use_by_week, usual, week_starts
from inventory.buying.orders import place_order
from inventory.buying.planning import Want, move, outlooks, release, reserve, wanted
from inventory.models import Material, Movement, Reservation
from inventory.stock.totals import monday
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY, the_day


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def plain(words: str) -> str:
    """A sentence as it is read: the spaces between a number and its unit do not break."""
    return words.replace("\u00a0", " ").replace("\u202f", " ")


def want(shelf, quantity: str, when: int) -> Want:
    return Want(shelf.material, Decimal(quantity), day(when))


def put_aside(shelf, *wants: tuple[str, int]) -> list[Reservation]:
    return reserve(wants=[want(shelf, quantity, when) for quantity, when in wants], at=NOW)


def test_a_reservation_moves_nothing(shelf):
    shelf.receive("1000", "10")
    put_aside(shelf, ("300", 2))
    assert shelf.on_hand == 1000
    assert Movement.objects.count() == 1


def test_free_is_on_hand_less_what_is_reserved_day_by_day(shelf):
    shelf.receive("1000", "10")
    put_aside(shelf, ("300", 5), ("200", 2), ("100", 2))
    [outlook] = outlooks(TODAY)
    assert (outlook.on_hand, outlook.reserved, outlook.free) == (1000, 600, 400)
    assert [(one.day, one.wanted, one.free, one.short) for one in outlook.days] == [
        (day(2), 300, 700, 0),
        (day(5), 300, 400, 0),
    ]
    assert outlook.first_short is None


def test_what_will_be_missing_says_when_and_how_much(shelf):
    shelf.receive("1000", "10")
    put_aside(shelf, ("800", 2), ("300", 5))
    [outlook] = outlooks(TODAY)
    assert outlook.first_short.day == day(5)
    assert (outlook.first_short.short, outlook.free) == (100, -100)
    assert plain(outlook.first_short.lacks) == "100 g will be missing"


def test_what_will_be_out_of_date_says_until_when_it_is_good(shelf):
    shelf.receive("1000", "10", use_by=day(3))
    put_aside(shelf, ("400", 2), ("400", 4))
    [first, second] = wanted(TODAY)
    assert not first.short
    assert (second.cover.stale, second.cover.missing) == (400, 0)
    assert plain(second.words) == f"Laminating resin: 400 g will be out of date (good until {the_day(day(3))})"
    [outlook] = outlooks(TODAY)
    assert outlook.free == 200  # it is there; that it will not be good any more is said beside it
    assert outlook.first_short.day == day(4)


def test_what_was_released_is_free_again(shelf):
    shelf.receive("1000", "10")
    [first, _] = put_aside(shelf, ("800", 2), ("300", 5))
    assert release(reservations=[first.pk], at=NOW) == 1
    assert outlooks(TODAY)[0].free == 700
    assert release(reservations=[first.pk], at=NOW) == 0  # once is enough


def test_what_comes_short_first_stands_first(shelf, keeper):
    cloth = Material.objects.create(key="cloth", name="Cloth 6 oz", kind="cloth", unit="m2")
    shelf.receive("1000", "10")
    shelf.is_counted_out(cloth)
    reserve(wants=[want(shelf, "200", 1), Want(cloth, Decimal("0.0226"), day(6))], at=NOW)
    assert [one.material.name for one in outlooks(TODAY)] == ["Cloth 6 oz", "Laminating resin"]


def test_what_is_missing_but_ordered_says_when_it_is_expected(shelf, keeper):
    pack = shelf.price("1 kg tin", "1000", "12")
    shelf.is_counted_out()
    put_aside(shelf, ("300", 5))
    place_order(packs={pack: 1}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    [one] = wanted(TODAY)
    assert plain(one.words) == f"Laminating resin: 300 g will be missing (ordered, expected {the_day(day(7))})"


def test_work_that_comes_later_moves_its_day(shelf):
    [first, second] = put_aside(shelf, ("300", 2), ("200", 3))
    assert move(days={first.pk: day(9)}) == 1
    assert [(one.reservation.pk, one.reservation.needed_on) for one in wanted(TODAY)] == [
        (second.pk, day(3)),
        (first.pk, day(9)),
    ]
    release(reservations=[second.pk], at=NOW)
    assert move(days={second.pk: day(4)}) == 0  # what is over is not moved any more


def test_a_reservation_of_nothing_is_refused(shelf):
    with pytest.raises(Refused, match="more than nothing"):
        put_aside(shelf, ("0.0001", 1))  # less than a milligram, the step that grams are kept in
    assert not Reservation.objects.exists()


def test_the_reads_take_the_same_queries_however_much_is_reserved(shelf, keeper, django_assert_max_num_queries):
    shelf.receive("1000", "10")
    place_order(packs={shelf.price("tin", "1000", "12"): 1}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    put_aside(shelf, ("1", 1))
    with django_assert_max_num_queries(4):
        wanted(TODAY)
    for number in range(20):
        other = Material.objects.create(key=f"m{number}", name=f"M {number}", kind="cloth", unit="m2")
        reserve(wants=[Want(other, Decimal(1), day(number))] * 3, at=NOW)
    with django_assert_max_num_queries(4):
        assert len(wanted(TODAY)) == 61
    with django_assert_max_num_queries(5):
        assert len(outlooks(TODAY)) == 21
    with django_assert_max_num_queries(4):
        assert len(planning.wanted(TODAY, [shelf.material.pk])) == 1


def moment(number: int, hour: int = 9) -> datetime:
    return datetime(TODAY.year, TODAY.month, TODAY.day, hour, tzinfo=UTC) + timedelta(days=number)


def use_on(shelf, quantity: str, when: int, hour: int = 9):
    return shelf.use(quantity, recorded_at=moment(when, hour))


@pytest.mark.calendar
def test_weeks_begin_on_monday_and_the_running_one_counts_as_far_as_it_has_come(shelf):
    shelf.receive("5000", "50", recorded_at=moment(-100), received_on=day(-100))
    assert week_starts(TODAY, 2) == [day(-16), day(-9), day(-2)]
    for when, quantity in ((-17, "1"), (-16, "10"), (-10, "20"), (-9, "100"), (-3, "200"), (-2, "1000"), (0, "2000")):
        use_on(shelf, quantity, when)
    assert use_by_week(TODAY, [shelf.material.pk], weeks=2)[shelf.material.pk] == [30, 300, 3000]


@pytest.mark.calendar
def test_what_is_booked_late_counts_in_the_week_it_happened_in(shelf):
    shelf.receive("5000", "50", recorded_at=moment(-100), received_on=day(-100))
    shelf.use("70", happened_at=moment(-8), recorded_at=moment(0))
    assert use_by_week(TODAY, [shelf.material.pk], weeks=2)[shelf.material.pk] == [0, 70, 0]


@pytest.mark.calendar
def test_what_was_undone_counts_for_nothing_in_the_week_it_was_booked(shelf):
    shelf.receive("5000", "50", recorded_at=moment(-100), received_on=day(-100))
    [wrong] = use_on(shelf, "400", -8)
    use_on(shelf, "60", -8)
    shelf.undo(wrong)  # days later
    assert use_by_week(TODAY, [shelf.material.pk], weeks=2)[shelf.material.pk] == [0, 60, 0]


def test_losses_and_count_differences_are_no_use(shelf):
    lot = shelf.receive("5000", "50")
    from inventory.stock import ledger

    signed = shelf.signed()
    ledger.write_off(material=shelf.material, quantity=Decimal(5), reason="spilt", signed=signed)
    ledger.book_difference(lot=lot, quantity=Decimal(-7), reason="counted", signed=shelf.signed())
    assert sum(use_by_week(TODAY, [shelf.material.pk])[shelf.material.pk]) == 0


def test_usual_use_and_its_swing_come_from_the_whole_weeks_it_was_there():
    weeks = [Decimal(0)] * 22 + [Decimal(70), Decimal(140), Decimal(70), Decimal(140), Decimal(700)]
    month = usual(weeks, monday(TODAY) - timedelta(weeks=4), TODAY)
    assert month.weeks == 4
    assert month.per_day == 15  # 420 g in 28 days; this week is not over
    # Four weeks 35 off their mean of 105: variance 4 · 35² / 3, a day's deviation is a week's over √7.
    assert month.sigma == pytest.approx((4 * 35**2 / 3 / 7) ** 0.5)
    assert usual(weeks, day(-400), TODAY).per_day == pytest.approx(420 / 182)


def test_what_is_new_on_the_shelf_is_judged_by_a_month_with_this_week():
    new = usual([Decimal(0)] * 25 + [Decimal(140), Decimal(280)], day(-9), TODAY)
    assert (new.weeks, new.per_day) == (4, 15)
    assert new.sigma > 0
