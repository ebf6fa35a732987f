"""A supplier's price list is seen whole before any of it counts; what cannot be read is told with its line."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import PackPrice, PriceList
from inventory.receiving.pricelist import MOST_LINES, read_list
from inventory.receiving.supplier_prices import compare, keep_list, take_over
from shop.platform.acts import Refused, Signed
from shop.text.tables import as_text
from tests.conftest import NOW, TODAY


def prices(text: str) -> list[tuple[int, str, D]]:
    reading = read_list(text, currency="EUR")
    assert reading.problems == []
    return [tuple(one) for one in reading.priced]


SAME_LIST = [
    "article,price\nLR-20,99.50\nC-6,210\n",
    "Article No.;Description;Net price\nLR-20;Drum;99,50\n\nC-6;Roll;210,00\n",
    "price\tcode\n99.5\tLR-20\n210\tC-6",
    'SKU|Price ex VAT|Note\n"LR-20"|"€99,50"|"a ""good"" drum"\nC-6|210.00|\n',
    "\ufeffarticle;price\r\nLR-20;99,50\r\nC-6;210\r\n",
]


@pytest.mark.parametrize("text", SAME_LIST)
def test_lists_are_read_whatever_their_delimiter_and_decimal_sign(text):
    assert [(article, price) for _, article, price, _ in prices(as_text(text.encode()))] == [
        ("LR-20", D("99.50")), ("C-6", D(210)),
    ]  # fmt: skip


def test_western_windows_letters_are_read():
    assert prices(as_text("article;price\nHärter;3\n".encode("cp1252")))[0][1] == "Härter"


WRONG = [
    ("", "The list is empty."),
    ("article;cost\nA;1\n", "Line 1: no column is headed price; name one column “price” and save the list again."),
    ("article;price;net price\nA;1;2\n", "Line 1: two columns are headed price"),
    ("name;price\nA;1\n", "Line 1: no column is headed article"),
    ("article;price\nA\n", "Line 2 has 1 cells; the price is missing."),
    ("article;price\n;1\n", "Line 2: article is empty."),
    ("article;price\nA;1\nA;2\n", "Line 3: article A stands on line 2 too."),
    ("article;price\nA;=1+1\n", "Line 2, price: =1+1 must be a price of zero or more, not a formula."),
    ("article;price\n=cmd|x;1\n", "is a formula, not an article"),
    ("article;price\nA;-3\n", "Line 2, price: -3 must be a price of zero or more"),
    ("article;price\nA;1,500\n", "Line 2, price: does 1,500 mean"),
    ("article;price\nA;a lot\n", "Line 2, price"),
    ("article;price\nA;\n", "Line 2, price"),
    ('article;price\n"A;1\n', "Line 2"),
    ("article;price\n" + "A;1\n" * MOST_LINES, f"The list has {MOST_LINES + 1} lines; {MOST_LINES} is the most that is read."),
    ("article;price\n" + "A;1\n" * 99_999, "The list has 100000 lines"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), WRONG)
def test_what_can_not_be_read_is_told_with_its_line(text, words):
    reading = read_list(text, currency="EUR")
    assert any(problem.startswith(words) or words in problem for problem in reading.problems), reading.problems


def test_many_problems_are_counted_not_all_told():
    reading = read_list("article;price\n" + "".join(f"A{n};x\n" for n in range(80)), currency="EUR")
    assert (len(reading.problems), reading.more_problems) == (50, 30)


@pytest.fixture
def drum(shelf):
    pack = shelf.price("20 kg drum", "20000", "96.00")
    pack.supplier_code = "LR-20"
    pack.save()
    return pack


def kept(shelf, drum, text: str) -> PriceList:
    return keep_list(supplier=drum.supplier, name="l.csv", text=text, from_day=TODAY, signed=Signed(shelf.by, NOW))


def test_every_change_is_seen_and_nothing_counts_before_the_yes(shelf, drum):
    tin = shelf.price("1 kg tin", "1000", "9.00", preferred=False)
    price_list = kept(shelf, drum, "article;price\nlr-20;192\nXX;1\n")
    seen = compare(price_list)
    [change] = seen.changes
    assert (change.pack, change.before, change.after, change.percent, change.unusual) == (
        drum,
        D(96),
        D(192),
        D(100),
        True,
    )
    assert [one.article for one in seen.strangers] == ["XX"]
    assert seen.without_article == [tin]
    assert PackPrice.objects.in_force(TODAY).get(pack=drum).price == 96
    take_over(price_list=price_list, signed=Signed(shelf.by, NOW))
    assert PackPrice.objects.in_force(TODAY).get(pack=drum).price == 192
    with pytest.raises(Refused, match="already"):
        take_over(price_list=price_list, signed=Signed(shelf.by, NOW))


def test_packs_of_one_article_get_its_price_alike(shelf, drum):
    twin = shelf.price("20 kg drum, blue", "20000", "97.00", preferred=False)
    twin.supplier_code = "lr-20"
    twin.save()
    seen = compare(kept(shelf, drum, "sep=;\narticle;price\nLR-20;99\n"))
    assert {(change.pack, change.after) for change in seen.changes} == {(drum, D(99)), (twin, D(99))}
    assert (seen.problems, seen.left_out) == ([], [])


def test_a_list_with_one_bad_line_is_not_taken_over_in_part(shelf, drum):
    price_list = kept(shelf, drum, "article;price\nLR-20;99\nB;oops\n")
    with pytest.raises(Refused, match="none of it"):
        take_over(price_list=price_list, signed=Signed(shelf.by, NOW))
    assert PackPrice.objects.count() == 1


def test_a_list_that_changes_nothing_says_so(shelf, drum):
    price_list = kept(shelf, drum, "article;price\nLR-20;96.00\n")
    assert compare(price_list).same == 1
    with pytest.raises(Refused, match="changes no price"):
        take_over(price_list=price_list, signed=Signed(shelf.by, NOW))


def test_from_file_to_prices_on_the_screen(shelf, drum, keeper_client, form_key):
    address = reverse("supplier-price-list-new", args=[drum.supplier_id])

    def send(data: bytes, name: str = "list.csv"):
        return keeper_client.post(
            address,
            {"file": SimpleUploadedFile(name, data), "from_day": TODAY.isoformat(), "submission_key": form_key()},
        )

    assert send(b"").status_code == 422
    assert send(b"x" * 2_000_001).status_code == 422
    assert not PriceList.objects.exists()
    answer = send(b"article;price\nLR-20;99,50\n<b>;1\n")
    page = keeper_client.get(answer["Location"]).content.decode()
    assert "€96.00" in page
    assert "€99.50" in page
    assert "<b>" not in page
    keeper_client.post(answer["Location"], {"submission_key": form_key()})
    assert PackPrice.objects.in_force(TODAY).get(pack=drum).price == D("99.50")
    assert send(bytes(range(256))).status_code == 422
    odd = send(bytes(range(1, 256)))
    assert "Line 1" in keeper_client.get(odd["Location"]).content.decode()
