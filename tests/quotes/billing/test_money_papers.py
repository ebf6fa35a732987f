"""Job sheet, invoice and receipt as papers: what stands on them, and what must not."""

from __future__ import annotations

import subprocess
from datetime import timedelta
from decimal import Decimal

import pytest

from quotes import bench as b
from quotes import billing
from quotes.bench.papers import job_sheet
from quotes.billing.itemising import SMALL
from quotes.models import StepTime, StepUse
from quotes.papers import invoice as invoice_paper
from quotes.papers import itemised, receipt
from shop.models import Profile
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY, in_words
from tests.quotes.benches import step_of
from tests.quotes.billing.test_billing import LATER, finished, priced

pytestmark = pytest.mark.papers
D = Decimal


def text(pdf: bytes, tmp_path, *more: str) -> str:
    path = tmp_path / "paper.pdf"
    path.write_bytes(pdf)
    run = subprocess.run(["pdftotext", "-layout", *more, str(path), "-"], capture_output=True, check=True)
    return run.stdout.decode()


def about(pdf: bytes, tmp_path, tool: str) -> str:
    path = tmp_path / "paper.pdf"
    path.write_bytes(pdf)
    return subprocess.run([tool, str(path)], capture_output=True, check=True).stdout.decode()


def row(words: str, page: str) -> list[str]:
    """The figures of the line that begins with these words."""
    line = next(line for line in page.splitlines() if line.strip().startswith(words))
    return line.strip()[len(words) :].split()


@pytest.fixture
def paid(versions, counter, bench):
    """485.00 with a deposit of 150.00, finished and invoiced on real papers."""
    job = priced(counter, versions, "485.00", lines=(("Fin set", "40.00", "23"),))
    deposit = billing.take_deposit(job=job, amount=D("150.00"), method="card", signed=Signed(counter, NOW))
    invoice = billing.issue_invoice(jobs=[finished(job, bench)], signed=Signed(counter, LATER))
    return job, deposit, invoice


def test_an_invoice_says_what_the_law_of_the_place_asks(paid, tmp_path):
    # Directive 2006/112/EC, article 226: date, number, both parties, tax number, nature, net and rate and tax per rate.
    # 445.00 × 13.5 / 113.5 = 52.93 (52.9295), 40.00 × 23 / 123 = 7.48 (7.4797): net 392.07 and 32.52, tax 60.41.
    page = text(bytes(paid[2].document.pdf), tmp_path)
    for said in (f"Invoice {LATER.year}-0001", in_words(LATER.date()), "Test Board Repairs", "1 Test Lane", "VAT number IE0000000X",
                 "Invoice to", "Niamh Brennock", "Rail ding, 5′6″ fish", "page 1 of 1"):  # fmt: skip
        assert said in page
    assert row("Fin set", page) == ["1", "32.52", "23", "%", "40.00"]
    assert row("Rail ding, 5′6″ fish", page)[-5:] == ["1", "392.07", "13.5", "%", "445.00"]
    assert row("VAT 23 % on €32.52", page) == ["7.48"]
    assert row("VAT 13.5 % on €392.07", page) == ["52.93"]
    assert row("Total without VAT", page) == ["424.59"]
    assert row(f"Deposit R{TODAY.year}-0001, {in_words(TODAY)}", page) == ["-150.00"]
    assert row("To pay", page) == ["€335.00"]
    # The deposit's own tax: 150 spread over 445 and 40 is 137.63 and 12.37; tax 16.37 (16.3700) and 2.31 (2.3131).
    assert "€18.68 was accounted for with the deposit; €41.73" in page


def test_an_invoice_names_the_day_and_the_way_to_pay_and_keeps_both(paid, counter, tmp_path):
    """EN 16931-1, rule BR-CO-25 (from memory): an amount due above zero has its due day or its terms of payment."""
    invoice = paid[2]
    due = LATER.date() + timedelta(days=14)
    assert invoice.due_on == due
    page = " ".join(text(bytes(invoice.document.pdf), tmp_path).split())
    for said in (
        f"to pay by {in_words(due)}",
        "How to pay",
        f"€335.00 by {in_words(due)}.",
        "In cash, by card, or by bank",
    ):
        assert said in page
    Profile.objects.update(payment_days=0, payment_words="Cash only.")
    again = " ".join(text(invoice_paper.pdf(invoice.frozen), tmp_path).split())
    assert again == page, "what was frozen is what is printed"


def test_an_invoice_is_due_the_day_it_is_issued_where_the_shop_gives_no_time(versions, counter, bench, tmp_path):
    Profile.objects.update(payment_days=0, payment_words="")
    invoice = billing.issue_invoice(
        jobs=[finished(priced(counter, versions, "90.00"), bench)],
        signed=Signed(counter, LATER),
    )
    assert invoice.due_on == LATER.date()
    assert f"€90.00 by {in_words(LATER.date())}." in text(bytes(invoice.document.pdf), tmp_path)


@pytest.mark.parametrize("taken", ["90.00", "40.00"])
def test_what_is_paid_already_asks_for_nothing(versions, counter, bench, tmp_path, taken):
    """Prepaid in whole: neither a day nor a way to pay; in part: for the rest."""
    job = priced(counter, versions, "90.00")
    billing.take_deposit(job=job, amount=D(taken), method="card", signed=Signed(counter, NOW))
    invoice = billing.issue_invoice(jobs=[finished(job, bench)], signed=Signed(counter, LATER))
    page = text(bytes(invoice.document.pdf), tmp_path)
    assert ("How to pay" in page) == (taken != "90.00")
    assert (invoice.due_on is None) == (taken == "90.00")
    assert invoice.payable > 0 or "to pay by" not in page


def test_an_invoice_from_before_is_set_as_it_was(paid, tmp_path):
    old = {**paid[2].frozen, "payment_words": "Cash or card."}
    del old["due_on"]
    page = text(invoice_paper.pdf(old), tmp_path)
    assert "Cash or card." in page
    assert "to pay by" not in page


def test_nothing_of_the_shops_own_is_on_the_customers_papers(paid, tmp_path):
    job, deposit, invoice = paid
    for document in (deposit.document, invoice.document):
        page = text(bytes(document.pdf), tmp_path).lower()
        for word in ("cost", "margin", "wage", "overhead", "earn", str(job.way.cost)):
            assert word not in page


def test_an_itemised_bill_lays_the_price_out_over_materials_and_hours(versions, stocked, counter, bench, tmp_path):
    """Australian Consumer Law, section 101: labour hours and rate, materials and amounts, how the price came about."""
    job = priced(counter, versions, "485.00", lines=(("Fin set", "40.00", "23"),))
    for step in job.steps.exclude(operation=b.RELEASE):
        b.finish_step(step=step, minutes=D(30), signed=Signed(bench, LATER))
    invoice = billing.issue_invoice(jobs=[finished(job, bench)], signed=Signed(counter, LATER))
    bill = billing.itemised(invoice)
    assert sum(row["amount"] for row in bill["rows"]) == invoice.net == D("424.59")
    assert bill["rows"][0]["words"] == "Fin set"
    assert bill["rows"][0]["amount"] == D("32.52")
    labour = bill["rows"][-1]
    assert labour["hours"] == D("4.60")  # nine steps of half an hour, and six minutes of release check
    # Materials and hours share the rest as their real costs do: 22 + 9 an hour against the lots.
    spent = billing.job_truth(job).real
    share = (spent.labour + spent.overhead) / (spent.labour + spent.overhead + spent.materials)
    assert abs(labour["amount"] - D("392.07") * share) < D("0.01")
    page = text(itemised.pdf(bill), tmp_path)
    for said in (f"Itemised bill for {LATER.year}-0001", "Fin set", "Labour and workshop", "Hourly rate: €", "485.00"):
        assert said in page
    used = {use.material for step in job.steps.all() for use in step.uses.all()}
    small = {material for material in used if material.kind in SMALL}
    assert len(small) > 2
    assert not [each.name for each in used - small if each.name not in page]
    [together] = [row for row in bill["rows"] if row["words"].startswith("Small things: ")]
    assert together["unit"] == "", "nobody counts a customer's gloves"
    assert all(each.name.partition(",")[0][1:] in together["words"] for each in small)
    assert len(bill["rows"]) == 3 + len(used - small)  # the fins, the small things, labour
    assert str(job.way.cost) not in page


def test_a_line_by_hand_is_the_same_on_the_invoice_and_on_the_itemised_bill(versions, stocked, counter, bench):
    """377.00 with 13.5 % in it is 332.16; 52.00 of it 45.8150, which alone is 45.81, beside 286.3436 it is 45.82."""
    job = priced(counter, versions, "377.00", lines=(("Pair of wooden keels", "52.00", "13.5"),))
    for step in job.steps.exclude(operation=b.RELEASE):
        b.finish_step(step=step, minutes=D(30), signed=Signed(bench, LATER))
    invoice = billing.issue_invoice(jobs=[finished(job, bench)], signed=Signed(counter, LATER))
    printed = {line["words"]: line["net"] for line in invoice_paper.context(invoice.frozen)["lines"]}
    itemised_row = billing.itemised(invoice)["rows"][0]
    assert itemised_row["amount"] == printed["Pair of wooden keels"] == D("45.82")


def test_what_took_nothing_is_not_itemised(paid):
    StepTime.objects.all().delete()
    StepUse.objects.update(undone_at=LATER)
    with pytest.raises(Refused, match="nothing to lay out"):
        billing.itemised(paid[2])


def test_a_receipt_says_what_was_taken_how_and_what_is_left(paid, tmp_path):
    page = text(bytes(paid[1].document.pdf), tmp_path)
    for said in (f"Receipt R{TODAY.year}-0001", "Deposit for Rail ding", "tag 001", "by card", "€150.00", "€335.00"):
        assert said in page
    assert "VAT in this deposit" in page


@pytest.mark.parametrize(
    ("chosen", "size"),
    [("sheet", "595.276 x 841.89 pts (A4)"), ("A6", "297.638 x 419.528 pts"), ("roll", "226.772 x ")],
)
def test_a_receipt_is_of_the_size_the_shop_prints_them_on(paid, counter, tmp_path, chosen, size):
    """ISO 216: A6 is 105 × 148 mm; a till roll is 80 mm wide (common practice, no source)."""
    Profile.objects.update(receipt_paper=chosen)
    payment = billing.pay(invoice=paid[2], amount=D("335.00"), method="card", signed=Signed(counter, LATER))
    pdf = bytes(payment.document.pdf)
    info = about(pdf, tmp_path, "pdfinfo")
    assert size in info
    assert "Pages:           1" in info
    page = " ".join(text(pdf, tmp_path).split())
    for said in (f"Receipt R{LATER.year}-0002", "€335.00", "Paid in full.", "VAT number IE0000000X", "by card"):
        assert said in page
    Profile.objects.update(receipt_paper="A6")
    assert size in about(receipt.pdf(payment.frozen), tmp_path, "pdfinfo"), "as it was given"


def test_a_receipt_from_before_is_on_the_sheet(paid, tmp_path):
    old = {**paid[1].frozen}
    del old["receipt_paper"]
    assert "(A4)" in about(receipt.pdf(old), tmp_path, "pdfinfo")


@pytest.mark.parametrize(
    ("words", "least", "most"), [("Wax", 60, 140), ("A long word on a long repair. " * 40, 200, 400)]
)
def test_a_till_roll_is_cut_where_the_receipt_ends(paid, tmp_path, words, least, most):
    info = about(receipt.pdf({**paid[1].frozen, "receipt_paper": "roll", "words": words}), tmp_path, "pdfinfo")
    assert "Pages:           1" in info
    height = float(info.split("Page size:")[1].split("x")[1].split()[0]) / 72 * 25.4
    assert least <= height <= most


def test_a_receipt_longer_than_any_roll_goes_on_on_a_further_piece(paid, tmp_path):
    long = {**paid[1].frozen, "receipt_paper": "roll", "words": "A long word on a long repair. " * 300}
    assert "Pages:           1" not in about(receipt.pdf(long), tmp_path, "pdfinfo")


def test_papers_are_tagged_embedded_and_one_page(paid, tmp_path):
    for document in (paid[1].document, paid[2].document):
        info = about(bytes(document.pdf), tmp_path, "pdfinfo")
        assert "Tagged:          yes" in info
        assert "Pages:           1" in info
        assert "A4" in info
        fonts = about(bytes(document.pdf), tmp_path, "pdffonts").splitlines()[2:]
        assert all(line.split()[-5:-2] == ["yes", "yes", "yes"] for line in fonts), fonts


def test_a_shop_in_america_prints_on_letter_and_adds_the_tax(profile, versions, counter, bench, tmp_path):
    Profile.objects.update(paper="letter", tax_profile="none", prices_include_tax=False, currency="USD", locale="en_US")
    job = finished(priced(counter, versions, "90.00"), bench)
    invoice = billing.issue_invoice(jobs=[job], signed=Signed(counter, LATER))
    pdf = bytes(invoice.document.pdf)
    assert "letter" in about(pdf, tmp_path, "pdfinfo")
    page = text(pdf, tmp_path)
    assert row("To pay", page) == ["$90.00"]
    assert "Not registered for tax; no tax is charged." in page
    assert "VAT" not in page


def test_a_credit_note_names_the_invoice_and_the_reason(paid, counter, tmp_path):
    note = billing.credit_invoice(invoice=paid[2], reason="wrong board on it", signed=Signed(counter, LATER))
    page = text(bytes(note.document.pdf), tmp_path)
    for said in (
        f"Credit note C{LATER.year}-0001",
        f"For invoice {LATER.year}-0001 of {in_words(LATER.date())}",
        "wrong board on it",
    ):
        assert said in page
    assert row("Credited", page) == ["€485.00"]
    assert row("VAT 13.5 % on €392.07", page) == ["52.93"], "above zero, as EN 16931 has a credit note"


def test_the_job_sheet_holds_doses_windows_cautions_boxes_and_no_price(job, tmp_path):
    pdf = job_sheet.pdf(job, at=NOW)
    page = text(pdf, tmp_path)
    [dose] = b.doses(step_of(job, "laminate"))
    for said in (f"{dose.resin_g} g Laminating resin + {dose.hardener_g} g MEKP catalyst", "24 h after the step before",
                 "of it, or sand", "Release check", "What turned up", "MEKP blinds", "safety data sheet", "minutes"):  # fmt: skip
        assert said in " ".join(page.split()), said
    assert "€" not in page
    assert f"{job.way.gross:.2f}" not in page
    assert int(about(pdf, tmp_path, "pdfinfo").split("Pages:")[1].split()[0]) <= 5
    assert "020 910 0144" not in page
    assert "Tagged:          yes" in about(pdf, tmp_path, "pdfinfo")


def test_the_tag_on_the_job_sheet_is_read_from_afar(job, tmp_path):
    box = text(job_sheet.pdf(job, at=NOW), tmp_path, "-bbox")
    tall = [float(line.split('yMax="')[1].split('"')[0]) - float(line.split('yMin="')[1].split('"')[0])
            for line in box.splitlines() if ">001</word>" in line]  # fmt: skip
    assert max(tall) >= 24


def test_a_long_name_and_a_long_extra_still_make_a_paper(versions, counter, bench, tmp_path):
    job = priced(counter, versions, "120.00")
    words = "Ein sehr langer Satz über Wasser im Schaum, Ελλάδα, Łódź, " * 6
    extra = b.note_found(job=job, words=words, signed=Signed(bench, NOW))
    b.price_extra(extra=extra, price=D("45.00"), signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    invoice = billing.issue_invoice(jobs=[finished(job, bench)], signed=Signed(counter, LATER))
    page = text(bytes(invoice.document.pdf), tmp_path)
    assert "Łódź" in page
    assert "Ελλάδα" in page
    assert row("To pay", page) == ["€165.00"]
