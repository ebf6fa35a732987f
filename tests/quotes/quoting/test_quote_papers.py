"""The quote and the claim slip as papers.

What stands on them, that it agrees with the rows, and what must not be there.
"""

from __future__ import annotations

import re
import subprocess
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal

import pytest

from quotes import bench, billing, quoting
from quotes.models import Way
from quotes.papers import quote as quote_paper
from quotes.papers import slip
from shop.models import Profile
from shop.papers.paper import fingerprint
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, in_words
from tests.quotes import seed
from tests.quotes.conftest import take_in, with_two_ways

BEGINS = {"quote": with_two_ways}
pytestmark = [pytest.mark.papers, pytest.mark.usefixtures("standing")]
POINTS_PER_MM = 72 / 25.4
BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}


@pytest.fixture
def three(quote, versions, counter):
    """A usual quote: three ways, one with a line by hand at another rate."""
    board, damage = quote.boards.get(), quote.boards.get().takein.damages.get()
    quoting.add_way(board=board, version=versions["fin-box"], measures=BOX, damage=damage, signed=Signed(counter, NOW), title="The same, painted", words="New box, painted in the board's colour.")  # fmt: skip
    keels = board.ways.get(position=2)
    quoting.add_line(way=keels, words="Keel fins, pair", price=Decimal("38"), cost=Decimal("21"),
                     tax_percent=Decimal("23"), signed=Signed(counter, NOW))  # fmt: skip
    return quote


def content(quote, **changed):
    return {**quoting.content_of(quote, on=TODAY), **changed}


def spaced(text: str) -> str:
    return " ".join(text.split())


def test_a_usual_quote_of_three_ways_is_one_page(three, counter, run):
    sent = quoting.send_quote(quote=three, signed=Signed(counter, NOW))
    pdf = bytes(sent.document.pdf)
    about = run(pdf, "pdfinfo")
    assert re.search(r"Pages:\s+1\n", about)
    assert "(A4)" in about
    assert re.search(r"Tagged:\s+yes", about)
    assert re.search(rf"Title:\s+Quote Q{TODAY.year}-0001", about)
    assert sent.document.sha256 == fingerprint(pdf)
    page = spaced(run(pdf, "pdftotext", "-layout"))
    for words in (
        "Test Board Repairs", "VAT number IE0000000X", "Niamh Brennock", f"Quote Q{TODAY.year}-0001", in_words(TODAY),
        f"held until {in_words(TODAY + timedelta(days=14))}", "Three ways to fix your 5′6″ fish", "left box crushed, 118 × 34 × 23 mm",
        "I agree on this way", f"Ready days are for a yes on {in_words(TODAY)}", "What may turn up.", "ask before we go on", "A deposit of 30 % is due on your yes",
        "Includes Keel fins, pair, €38.00", "name", "signature", "page 1 of 1",
    ):  # fmt: skip
        assert words in page, words


def test_prices_and_tax_on_the_paper_are_those_of_the_rows(three, run):
    page = run(quote_paper.pdf(content(three)), "pdftotext", "-layout")
    for way in Way.objects.filter(board__quote=three):
        assert f"€{way.gross:,.2f}" in page
        assert f"Ready {way.ready_on:%a} {way.ready_on.day} {way.ready_on:%b %Y}" in page
    shown = {}
    for found in re.finditer(r"Way (\d)\s+([\d.]+) %\s+([\d,.]+)\s+([\d,.]+)\s+([\d,.]+)", page):
        net, tax, gross = (Decimal(figure.replace(",", "")) for figure in found.groups()[2:])
        assert net + tax == gross
        rows = shown.setdefault(int(found[1]), [])
        rows.append((Decimal(found[2]), net, tax, gross))
    assert [len(shown[position]) for position in (1, 2, 3)] == [1, 2, 1]  # the second way has two rates
    for position, rows in shown.items():
        way = Way.objects.get(board__quote=three, position=position)
        assert sum(row[1] for row in rows) == way.net
        assert sum(row[2] for row in rows) == way.tax
        assert sum(row[3] for row in rows) == way.gross


def test_nothing_of_the_shops_own_is_on_the_paper(three, run):
    page = run(quote_paper.pdf(content(three)), "pdftotext", "-layout")
    for way in Way.objects.filter(board__quote=three):
        assert f"{way.cost:,.2f}" not in page
    for word in ("cost", "margin", "earn", "hour"):
        assert word not in page.lower()


def test_fonts_are_the_papers_own_and_go_with_it(three, run):
    rows = [line.split() for line in run(quote_paper.pdf(content(three)), "pdffonts").splitlines()[2:]]
    assert rows
    for row in rows:
        assert re.fullmatch(r"[A-Z]{6}\+Lato(-\w+)?", row[0])
        assert row[-5:-2] == ["yes", "yes", "yes"]  # embedded, subset, with a Unicode map


def test_amounts_stand_under_each_other_and_nothing_is_cut_off(three, run):
    boxes = run(quote_paper.pdf(content(three)), "pdftotext", "-bbox")
    words = re.findall(r'xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)<', boxes)
    page_right = float(re.search(r'page width="([\d.]+)"', boxes)[1])
    price_edges = [float(right) for _, right, _, word in words if word.startswith("€") and word != "€38.00"]
    assert max(price_edges) - min(price_edges) < 0.5
    amounts = [float(right) for _, right, _, word in words if re.fullmatch(r"[\d,]+\.\d\d", word)]
    last = [edge for edge in amounts if edge > page_right - 22 * POINTS_PER_MM]
    assert len(last) == 4  # one a row of the tax table
    assert max(last) - min(last) < 0.5
    assert all(float(left) > 12 * POINTS_PER_MM for left, *_ in words)
    assert all(float(right) < page_right - 12 * POINTS_PER_MM for _, right, *_ in words)


@pytest.mark.parametrize("count", [1, 5])
def test_one_way_and_five_ways_keep_their_rows_whole(quote, versions, counter, run, count):
    board = quote.boards.get()
    for way in list(board.ways.all())[count:]:
        quoting.remove_way(way=way, signed=Signed(counter, NOW))
    for _ in range(count - 2):
        quoting.add_way(board=board, version=versions["fin-box"], measures=BOX, signed=Signed(counter, NOW))
    pdf = quote_paper.pdf(content(quote))
    pages = run(pdf, "pdftotext", "-layout").split("\f")[:-1]
    assert len(pages) == (1 if count == 1 else 2)
    assert ("One way" if count == 1 else "Five ways") in pages[0]
    assert sum(page.count("I agree on this way") for page in pages) == count
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert f"held until {in_words(TODAY + timedelta(days=14))}" in page


def test_long_words_run_on_to_further_pages_under_the_same_head(three, run):
    long = content(three, terms="Terms and more of them. " * 160, note="A word to you. " * 60)
    for way in long["boards"][0]["ways"]:
        way["words"] = "Words that go on and on. " * 70
    long["boards"][0]["damages"][0]["words"] = "a long story about a reef " * 15
    pages = run(quote_paper.pdf(long), "pdftotext", "-layout").split("\f")[:-1]
    assert len(pages) > 2
    for page in pages[1:]:
        assert "Niamh Brennock" in page  # the head of later pages says whose it is
    assert "Terms and more of them." in pages[-1]


def test_two_boards_are_told_apart(joint, run):
    page = spaced(run(quote_paper.pdf(content(joint)), "pdftotext", "-layout"))
    for words in ("One way to fix your 5′6″ fish", "One way to fix your 9′2″ log", "Tag 001", "Tag 002", "Eoin Harte"):
        assert words in page


@pytest.mark.parametrize(
    ("unit", "said"),
    [("mm", "118 × 34 × 23 mm"), ("cm", "11.8 × 3.4 × 2.3 cm"), ("in", "4.65 × 1.34 × 0.91 in")],
)
def test_measures_are_said_in_one_unit_the_shops(three, run, unit, said):
    """However they were typed. 1 in = 25.4 mm exactly (NIST SP 811, appendix B.8): 118 / 25.4 = 4.645 7."""
    damage = three.boards.get().takein.damages.get()
    damage.measures = {"length": "118", "width": "3.4 cm", "depth": "23 mm"}
    damage.save()
    Profile.objects.update(measures_in=unit)
    assert said in spaced(run(quote_paper.pdf(content(three)), "pdftotext", "-layout"))


def test_the_deposit_stands_in_money_with_each_price_and_is_what_is_asked(three, run, counter):
    sent = quoting.send_quote(quote=three, signed=Signed(counter, NOW))
    page = run(bytes(sent.document.pdf), "pdftotext", "-layout")
    ways = list(Way.objects.filter(board__quote=three))
    asked = [(way.gross * 30 / 100).quantize(Decimal(1), ROUND_HALF_UP) for way in ways]
    assert re.findall(r"deposit €([\d.,]+)", page) == [f"{amount:.2f}" for amount in asked]
    Profile.objects.update(deposit_percent=50)  # what was said holds
    job = bench.accept_way(way=ways[1], signed=Signed(counter, NOW), how="at the counter")
    assert billing.suggested_deposit(job) == asked[1]


def test_a_shop_that_asks_for_no_deposit_says_nothing_of_one(three, run):
    Profile.objects.update(deposit_percent=0)
    assert "deposit €" not in run(quote_paper.pdf(content(three)), "pdftotext", "-layout")


@pytest.fixture
def joint(takein, versions, counter):
    """Two boards of one payer on one quote, a way for each."""
    other = take_in(counter, brought_by=seed.customer("Eoin Harte"), board=seed.fish(name="9′2″ log"),
                    damages=[seed.rail_ding()], payer=takein.brought_by)  # fmt: skip
    quote = quoting.start_quote(takeins=[takein, other], signed=Signed(counter, NOW))
    for board in quote.boards.all():
        quoting.add_way(board=board, version=versions["fin-box"], measures=BOX, signed=Signed(counter, NOW))
    return quote


@pytest.mark.parametrize("included", [True, False])
def test_a_joint_quote_says_what_all_boards_come_to(joint, counter, run, included):
    """With tax in the prices the sum of what is paid; without, tax on the sum, as on one invoice for both."""
    Profile.objects.update(prices_include_tax=included)
    quoting.recompute(quote=joint, signed=Signed(counter, NOW))
    ways = list(Way.objects.filter(board__quote=joint))
    if included:
        whole = sum(way.gross for way in ways)
    else:
        net = sum(way.net for way in ways)
        whole = net + (net * Decimal("0.135")).quantize(Decimal("0.01"), ROUND_HALF_UP)
    page = spaced(run(quote_paper.pdf(content(joint)), "pdftotext", "-layout"))
    assert "All boards together" in page
    assert f"Together, with VAT €{whole:,.2f}" in page
    for way, name in zip(ways, ("5′6″ fish, tag 001", "9′2″ log, tag 002"), strict=True):
        assert f"{name} {way.totals['shown']}" in page
    deposits = sum((way.gross * 30 / 100).quantize(Decimal(1), ROUND_HALF_UP) for way in ways)
    assert f"Deposit on your yes {deposits:.2f}" in page


def test_where_there_is_a_choice_the_sum_is_from_and_to(joint, versions, counter, run):
    keels = quoting.add_way(board=joint.boards.first(), version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW))  # fmt: skip
    page = spaced(run(quote_paper.pdf(content(joint)), "pdftotext", "-layout"))
    box, log = Way.objects.filter(board__quote=joint).exclude(pk=keels.pk)
    assert keels.gross > box.gross
    assert f"Together, with VAT €{box.gross + log.gross:,.2f} €{keels.gross + log.gross:,.2f}" in page
    assert "Least, EUR Most, EUR" in page


def test_one_board_has_no_sum_and_a_quote_from_before_has_none(three, joint, run):
    assert "together" not in run(quote_paper.pdf(content(three)), "pdftotext", "-layout")
    old = content(joint)
    del old["together"]
    for board in old["boards"]:
        for way in board["ways"]:
            del way["deposit"]
    page = spaced(run(quote_paper.pdf(old), "pdftotext", "-layout"))
    assert "together" not in page
    assert "A deposit of 30 % is due on your yes. Deposit on your yes" in page, "the shop's own terms follow"


@pytest.mark.parametrize("name", ["Łucja Żółć", "Ελένη Παπαδοπούλου", "Юлия Щукина", "Jānis Bērziņš", "Zoë 🏄🏽‍♀️"])
def test_names_of_any_letters_are_printed(three, run, name):
    pdf = quote_paper.pdf(content(three, buyer={"name": name, "address": "", "tax_number": ""}))
    page = run(pdf, "pdftotext", "-layout")
    assert name.split()[0] in page
    for row in run(pdf, "pdffonts").splitlines()[2:]:
        assert row.split()[-5] == "yes"


def test_markup_in_words_is_only_words(three, run):
    odd = content(three, note='<img src="file:///etc/passwd"> & <b>bold</b>')
    assert '<img src="file:///etc/passwd"> & <b>bold</b>' in run(quote_paper.pdf(odd), "pdftotext", "-layout")


def test_letter_paper_and_prices_without_tax(three, counter, run):
    Profile.objects.update(paper="letter", prices_include_tax=False)
    quoting.recompute(quote=three, signed=Signed(counter, NOW))
    pdf = quote_paper.pdf(content(three))
    assert "(letter)" in run(pdf, "pdfinfo")
    page = spaced(run(pdf, "pdftotext", "-layout"))
    way = Way.objects.get(board__quote=three, position=1)
    assert f"€{way.net:,.2f}" in page
    assert "plus VAT" in page
    assert f"in all €{way.gross:,.2f}" in page


def test_a_shop_without_tax_says_so(three, counter, run):
    Profile.objects.update(tax_profile="none")
    quoting.recompute(quote=three, signed=Signed(counter, NOW))
    page = run(quote_paper.pdf(content(three)), "pdftotext", "-layout")
    assert "Not registered for tax" in page
    assert "VAT" not in page


def test_a_preview_says_that_it_is_one(three, run):
    page = run(quote_paper.pdf(content(three)), "pdftotext", "-layout")
    assert "PREVIEW" in page
    assert f"Q{TODAY.year}" not in page


def test_a_new_version_says_which(three, counter, run):
    sent = quoting.send_quote(quote=three, signed=Signed(counter, NOW))
    new = quoting.replace_quote(quote=sent, signed=Signed(counter, NOW))
    again = quoting.send_quote(quote=new, signed=Signed(counter, NOW))
    page = run(bytes(again.document.pdf), "pdftotext", "-layout")
    assert f"Quote Q{TODAY.year}-0001" in page
    assert "version 2" in page
    assert "PREVIEW" not in page


def test_the_same_content_gives_the_same_page(three, run):
    one, two = (run(quote_paper.pdf(content(three)), "pdftotext", "-layout") for _ in range(2))
    assert one == two


def test_the_slip_has_the_tag_twice_and_its_code_opens_the_record(takein, run, tmp_path, settings):
    import zxingcpp
    from PIL import Image

    pdf = slip.pdf(takein, profile=Profile.objects.get())
    page = run(pdf, "pdftotext", "-layout")
    assert page.count(takein.tag) >= 3  # slip, tag, foot
    assert "Niamh Brennock" in page
    assert "left box crushed" in page
    assert "€" not in page
    assert re.search(r"Pages:\s+1\n", run(pdf, "pdfinfo"))
    subprocess.run(["pdftoppm", "-r", "203", "-mono", "-png", tmp_path / "paper.pdf", tmp_path / "slip"], check=True)
    [picture] = tmp_path.glob("slip*.png")
    [code] = zxingcpp.read_barcodes(Image.open(picture).convert("L"))
    assert code.text == f"{settings.ORIGIN}/t/{takein.tag}".upper()
