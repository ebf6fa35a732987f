"""What belongs together is known by key: what was booked in one tap, and which lines of an invoice are by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from inventory.models import Material
from inventory.stock import books
from quotes import bench as b
from quotes import billing
from quotes.models import StepUse
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.benches import step_of
from tests.quotes.billing.test_billing import finished, issue, priced

D = Decimal
HOUR = timedelta(hours=1)


def standing() -> list[str]:
    return sorted(StepUse.objects.filter(undone_at=None).values_list("material__key", flat=True))


def use(step, key, by):
    return b.record_use(step=step, material=Material.objects.get(key=key), quantity=D(1), signed=Signed(by, NOW))


def test_two_taps_of_one_moment_are_undone_each_by_itself(job, bench):
    laminate = step_of(job, "laminate")
    use(laminate, "cup", bench)
    gloves = use(laminate, "gloves", bench)
    b.undo_use(use=gloves, signed=Signed(bench, NOW + HOUR))
    assert standing() == ["cup"]
    assert books.problems() == []


def test_a_correction_of_one_tap_leaves_the_other_of_the_same_moment(job, bench):
    laminate = step_of(job, "laminate")
    cup = use(laminate, "cup", bench)
    right = b.correct_use(use=use(laminate, "gloves", bench), quantity=D(2), signed=Signed(bench, NOW))
    assert StepUse.objects.get(pk=cup.pk).undone_at is None
    assert (right.used, standing()) == (2, ["cup", "gloves"])


def test_what_a_tap_books_has_one_key_and_the_next_tap_another(job, bench):
    laminate, hot = step_of(job, "laminate"), step_of(job, "hot-coat")
    first, second = (b.use_as_planned(step=step, signed=Signed(bench, NOW)) for step in (laminate, hot))
    assert len({row.tap for row in first}) == len({row.tap for row in second}) == 1
    assert first[0].tap != second[0].tap
    assert {row.step for row in first} == {laminate}


def test_an_extra_with_the_words_of_a_line_by_hand_is_laid_out_with_the_work(versions, stocked, counter, bench):
    job = priced(counter, versions, "485.00", lines=(("Fin set", "40.00", "23"),))
    extra = b.note_found(job=job, words="Fin set", signed=Signed(bench, NOW))
    extra = b.price_extra(extra=extra, price=D("30.00"), signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    b.use_as_planned(step=step_of(job, "laminate"), signed=Signed(bench, NOW))
    invoice = issue(finished(job, bench), by=counter)
    assert list(invoice.lines.values_list("words", "by_hand"))[1:] == [("Fin set", True), ("Fin set", False)]
    rows = billing.itemised(invoice)["rows"]
    assert [row["amount"] for row in rows if row["words"] == "Fin set"] == [D("32.52")]
    assert sum(row["amount"] for row in rows) == invoice.net
