"""The store on the screen: who sees what, what is booked, and what a wrong entry leads to."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal as D
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.buying.planning import Want, reserve
from inventory.counting import counts as counting
from inventory.formats import spoken
from inventory.models import Lot, Material, Movement, Pack, PackPrice, StockQuestion, Supplier
from inventory.stock import ledger
from shop.forms.fields import StockField
from shop.models import JournalEntry, TaxRate
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY


@pytest.fixture
def send(keeper_client, form_key):
    """Send a form of the store as the keeper; returns the answer."""

    def post(name: str, entries: dict, *args: int, client=None, key: str = ""):
        return (client or keeper_client).post(
            reverse(name, args=args), {"submission_key": key or form_key(), **entries}
        )

    return post


@pytest.fixture
def drum(shelf) -> Pack:
    return shelf.price("20 kg drum", "20000", "96.00", from_day=date(2026, 3, 1))


DELIVERY = {"pack": "loose", "count": "1", "tax": "none", "origin": "bought", "received_on": "2026-11-01"}


def delivery(**entries: str) -> dict[str, str]:
    return {**DELIVERY, **entries}


def test_a_delivery_of_packs_with_tax_in_the_price(send, shelf, drum):
    vat = str(TaxRate.objects.get(percent=D(23)).pk)
    answer = send(
        "receive", delivery(pack=str(drum.pk), count="2", price="246,00", tax=vat, keep_price="on"), shelf.material.pk
    )
    lot = Lot.objects.get()
    assert (answer.status_code, lot.quantity_left, lot.value_left) == (302, D(40000), D(200))
    assert lot.supplier.name == "Slipway Supplies"
    assert PackPrice.objects.in_force(date(2026, 11, 1)).get(pack=drum).price == 100


def test_without_a_price_the_packs_cost_what_the_list_says(send, shelf, drum):
    send("receive", delivery(pack=str(drum.pk), count="3", keep_price="on"), shelf.material.pk)
    assert Lot.objects.get().value_left == D(288)
    assert PackPrice.objects.count() == 1


def test_a_gift_costs_nothing_and_changes_no_price(send, shelf, drum):
    send("receive", delivery(quantity="1/2 kg", origin="gift", keep_price="on"), shelf.material.pk)
    lot = Lot.objects.get()
    assert (lot.origin, lot.quantity_left, lot.value_left) == ("gift", D(500), D(0))
    assert PackPrice.objects.count() == 1


def test_the_same_delivery_note_twice_is_asked_about_then_taken(send, shelf, drum):
    note = delivery(pack=str(drum.pk), delivery_note="LS-4471")
    send("receive", note, shelf.material.pk)
    again = send("receive", note, shelf.material.pk)
    assert again.status_code == 422
    assert "Delivery note LS-4471 was entered before" in again.content.decode()
    assert Lot.objects.count() == 1
    assert send("receive", {**note, "odd_delivery_note": "on"}, shelf.material.pk).status_code == 302
    assert Lot.objects.count() == 2


def test_litres_are_received_and_used_by_the_density(send, shelf, bench_client):
    shelf.material.density_kg_m3 = D(1130)
    shelf.material.save()
    send("receive", delivery(quantity="20 L", price="100"), shelf.material.pk)
    assert shelf.on_hand == D(22600)
    answer = send(
        "use", {"quantity": "500 mL", "lot": "usual", "reason": "test"}, shelf.material.pk, client=bench_client
    )
    assert shelf.on_hand == D(22035)
    assert f"?act={Movement.objects.get(kind='use').act}" in answer["Location"]


def test_a_use_can_be_undone_from_the_page_it_leads_to(send, shelf, bench_client):
    shelf.receive("1000", "5.00")
    answer = send("use", {"quantity": "280 g"}, shelf.material.pk, client=bench_client)
    page = bench_client.get(answer["Location"]).content.decode()
    out = Movement.objects.get(kind="use")
    assert reverse("movement-reverse", args=[out.pk]) in page
    send("movement-reverse", {}, out.pk, client=bench_client)
    assert shelf.on_hand == 1000
    refused = send("movement-reverse", {}, out.pk, client=bench_client)
    assert (refused.status_code, shelf.on_hand) == (422, 1000)


def test_a_double_tap_books_one_use(send, shelf):
    shelf.receive("1000", "5.00")
    for _ in range(2):
        assert (
            send(
                "use", {"quantity": "280 g"}, shelf.material.pk, key="4f5c1b7e-2f2a-4d61-9f2a-0c8f7c3f6d11"
            ).status_code
            == 302
        )
    assert shelf.on_hand == 720


def test_the_rest_of_a_lot_past_its_date_is_written_off_with_the_reason(send, shelf, keeper_client):
    today = timezone.localdate()
    stale = shelf.receive("500", "2.00", received_on=date(2026, 1, 5), use_by=today - timedelta(days=1))
    shelf.receive("100", "1.00")
    page = keeper_client.get(reverse("write-off", args=[shelf.material.pk]) + f"?lot={stale.pk}").content.decode()
    assert 'value="500"' in page
    send("write-off", {"quantity": "500", "lot": str(stale.pk), "why": "out of date"}, shelf.material.pk)
    out = Movement.objects.get(kind="write_off")
    assert (out.lot, out.reason, out.value) == (stale, "out of date", D(-2))


def test_a_question_is_answered_once(send, shelf, bench_client):
    shelf.is_counted_out()
    shelf.use("50")
    question = StockQuestion.objects.get()
    assert "went out" in bench_client.get(reverse("questions")).content.decode()
    send("question-answer", {"answer": "The drum was fuller."}, question.pk, client=bench_client)
    question.refresh_from_db()
    assert (question.answer, question.answered_by.role) == ("The drum was fuller.", "bench")
    assert send("question-answer", {"answer": "Or was it?"}, question.pk).status_code == 422


def test_one_answer_closes_all_that_is_alike(send, shelf, bench_client):
    shelf.is_counted_out()
    for _ in range(3):
        shelf.use("5")
    first, *others = StockQuestion.objects.order_by("pk")
    assert first.words.endswith("but the shelf held none. Where did 5\u00a0g come from?")
    page = bench_client.get(reverse("question-answer", args=[first.pk])).content.decode()
    assert "The same for 2 other open questions about Laminating resin" in page
    send("question-answer", {"answer": "A tin was not entered.", "alike": "on"}, first.pk, client=bench_client)
    assert not StockQuestion.objects.open().exists()
    assert {one.answer for one in StockQuestion.objects.all()} == {"A tin was not entered."}
    assert "The same for" not in bench_client.get(reverse("question-answer", args=[others[0].pk])).content.decode()


MATERIAL = {
    "name": "Glass cloth, 6 oz",
    "kind": "cloth",
    "unit": "m2",
    "areal_weight": "6 oz/yd²",
    "roll_width": "30 in",
}


def test_a_material_and_its_roll_are_entered_as_people_say_them(send):
    send("material-new", {**MATERIAL, "facts": "weave 4\npiece_m2: 0,5", "shelf_life": "730"})
    cloth = Material.objects.get()
    # 28.349523125 g over 0.83612736 m², times 6
    assert (cloth.key, cloth.areal_weight_g_m2, cloth.roll_width_mm) == ("glass-cloth-6-oz", D("203.434"), D(762))
    assert (cloth.facts, cloth.shelf_life_days) == ({"weave": 4.0, "piece_m2": 0.5}, 730)
    send(
        "pack-new",
        {
            "words": "30 in × 50 m roll", "new_supplier": "Slipway Supplies", "price": "210",
            "from_day": "2026-11-01", "preferred": "on",
        },
        cloth.pk,
    )  # fmt: skip
    pack = Pack.objects.get()
    assert (pack.content, pack.supplier.name, pack.preferred, pack.prices.get().price) == (
        D("38.1"), "Slipway Supplies", True, D(210),
    )  # fmt: skip
    assert JournalEntry.objects.filter(verb__in=["material.add", "pack.add", "supplier.add"]).count() == 3


def test_what_selling_costs_is_never_below_nothing(send):
    answer = send("material-new", {**MATERIAL, "kind": "counter", "unit": "piece", "facts": "costs_to_sell -0,5"})
    assert answer.status_code == 422
    assert "costs_to_sell must be zero or more" in answer.content.decode()
    assert not Material.objects.exists()


def test_a_second_material_of_the_same_name_gets_a_short_name_of_its_own(send):
    send("material-new", MATERIAL)
    send("material-new", MATERIAL)
    assert set(Material.objects.values_list("key", flat=True)) == {"glass-cloth-6-oz", "glass-cloth-6-oz-2"}


def test_changing_a_material_keeps_what_is_not_touched(send, shelf, keeper_client):
    Material.objects.update(
        density_kg_m3=D("1130.5"), facts={"tex": 2205.123}, shelf_life_days=180, opened_life_days=90
    )
    page = keeper_client.get(reverse("material-edit", args=[shelf.material.pk]))
    entries = {name: page.context["form"][name].value() for name in page.context["form"].fields}
    send("material-edit", {**entries, "name": "Laminating resin, clear"}, shelf.material.pk)
    before, after = shelf.material, Material.objects.get()
    assert (after.name, after.key, after.density_kg_m3) == ("Laminating resin, clear", before.key, D("1130.5"))
    assert (after.facts, after.shelf_life_days, after.opened_life_days) == ({"tex": 2205.123}, 180, 90)


def test_what_has_moved_stays_counted_in_its_unit(send, shelf):
    shelf.receive("1", "1")
    answer = send("material-edit", {"name": "Resin", "kind": "resin", "unit": "mL"}, shelf.material.pk)
    assert (answer.status_code, "It stays counted in grams" in unescape(answer.content.decode())) == (422, True)


def test_a_material_is_retired_only_when_none_is_left(send, shelf, keeper_client):
    shelf.receive("1", "1")
    assert send("material-retire", {}, shelf.material.pk).status_code == 422
    shelf.use("1")
    send("material-retire", {}, shelf.material.pk)
    assert not Material.objects.in_use().exists()
    assert keeper_client.get(reverse("material", args=[shelf.material.pk])).status_code == 200
    send("material-retire", {}, shelf.material.pk)
    assert Material.objects.in_use().exists()


def test_the_usual_pack_changes_and_an_old_one_goes(send, shelf, drum):
    tin = shelf.price("1 kg tin", "1000", "9.00", preferred=False)
    send("pack-edit", {"preferred": "on"}, tin.pk)
    send("pack-edit", {"gone": "on"}, drum.pk)
    assert list(Pack.objects.in_use().filter(preferred=True)) == [tin]
    drum.refresh_from_db()
    assert drum.retired_at is not None
    send("pack-price", {"price": "9,50", "from_day": "2026-11-20"}, tin.pk)
    assert tin.prices.filter(price=D("9.5")).exists()


HUGE = "9" * 10_000
BAD_AMOUNTS = ["", "-5 g", "a little", "5 m", HUGE, "9**9**9 m", "0", "1,500", "5 L"]


@pytest.mark.parametrize("amount", BAD_AMOUNTS)
@pytest.mark.parametrize("name", ["use", "write-off", "receive"])
def test_an_amount_that_can_not_be_read_stores_nothing_and_stays_in_its_box(send, shelf, name, amount):
    entries = {"quantity": amount, "why": "spilt", **delivery(price="1")}
    answer = send(name, entries, shelf.material.pk)
    page = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "<title>Error: " in page
    [sentence] = answer.context["form"].errors["quantity"]
    assert page.count(sentence) == 2, "beside the field and in the summary"
    if amount != HUGE:
        assert f'value="{amount}"' in page or not amount
    assert not Movement.objects.exists()
    assert not Lot.objects.exists()


BAD_ENTRIES = [
    ("receive", {"quantity": "5 kg"}, "price"),
    ("receive", {"quantity": "5 kg", "price": "-3"}, "price"),
    ("receive", {"quantity": "5 kg", "price": "3 or 4"}, "price"),
    ("receive", {"quantity": "5 kg", "price": "3", "origin": "gift"}, "price"),
    ("receive", {"quantity": "5 kg", "price": "3", "received_on": "soon"}, "received_on"),
    ("receive", {"quantity": "5 kg", "price": "3", "received_on": "2999-01-01"}, "received_on"),
    ("receive", {"quantity": "5 kg", "price": "3", "received_on": "9999-12-30"}, "received_on"),
    ("receive", {"quantity": "5 kg", "price": "3", "use_by": "2026-10-31"}, "use_by"),
    ("receive", {"quantity": "5 kg", "price": "3", "brand": "x" * 81}, "brand"),
    ("receive", {"quantity": "5 kg", "price": "3", "supplier": "999"}, "supplier"),
    ("write-off", {"quantity": "5 g"}, "why"),
    ("write-off", {"quantity": "5 g", "why": "stolen"}, "why"),
    ("use", {"quantity": "5 g", "reason": "x" * 201}, "reason"),
    ("pack-new", {"words": "a drum", "new_supplier": "S", "from_day": "2026-11-01"}, "words"),
    ("pack-new", {"words": "drum of 0 kg", "new_supplier": "S", "from_day": "2026-11-01"}, "words"),
    ("pack-new", {"words": "5 L can", "new_supplier": "S", "from_day": "2026-11-01"}, "words"),
    ("pack-new", {"words": "5 kg", "from_day": "2026-11-01"}, "supplier"),
    ("pack-new", {"words": "5 kg", "new_supplier": "S", "from_day": "2026-11-01", "price": "cheap"}, "price"),
    ("material-edit", {"name": "", "kind": "resin", "unit": "g"}, "name"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "sells_for": "3.25"}, "sells_for"),
    ("material-edit", {"name": "R", "kind": "counter", "unit": "piece", "sells_for": "0"}, "sells_for"),
    ("material-edit", {"name": "R", "kind": "counter", "unit": "piece", "sells_for": "a few"}, "sells_for"),
    ("material-edit", {"name": "R", "kind": "counter", "unit": "piece", "facts": "sells_for 3"}, "facts"),
    ("material-edit", {"name": "R", "kind": "glue", "unit": "g"}, "kind"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "density": "5 mm"}, "density"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "density": "5000"}, "density"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "shelf_life": "-1"}, "shelf_life"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "facts": "tex"}, "facts"),
    ("material-edit", {"name": "R", "kind": "resin", "unit": "g", "facts": "tex 1,500"}, "facts"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "entries", "field"), BAD_ENTRIES)
def test_a_wrong_entry_is_named_beside_its_field_and_nothing_is_stored(send, shelf, name, entries, field):
    before = list(Material.objects.values())
    answer = send(name, {**(DELIVERY if name == "receive" else {}), **entries}, shelf.material.pk)
    page = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    typed = [value for box, value in entries.items() if box not in ("kind", "why", "supplier")]
    assert all(value in page for value in typed)
    assert list(Material.objects.values()) == before
    assert not any(model.objects.exists() for model in (Movement, Lot, Pack, Supplier, JournalEntry))


def test_an_odd_density_is_asked_about_once(send):
    entries = {**MATERIAL, "density": "5000 kg/m³"}
    assert send("material-new", entries).status_code == 422
    assert send("material-new", {**entries, "odd_density": "on"}).status_code == 302
    assert Material.objects.get().density_kg_m3 == 5000


def test_words_are_never_markup(send, shelf, keeper_client):
    send("receive", delivery(quantity="5 kg", price="3", brand="<b>Näss & 波 🏄</b>"), shelf.material.pk)
    page = keeper_client.get(reverse("material", args=[shelf.material.pk])).content.decode()
    assert "&lt;b&gt;Näss &amp; 波 🏄&lt;/b&gt;" in page
    assert Lot.objects.get().brand == "<b>Näss & 波 🏄</b>"


FOR_EVERYBODY = ["store", "questions"]
OF_A_MATERIAL = ["material", "use", "write-off"]
MONEY_ONLY = ["receive", "material-edit", "material-retire", "pack-new"]


def test_the_bench_sees_what_there_is_and_no_price_anywhere(shelf, drum, bench_client):
    shelf.receive("12345", "123.45", pack=drum)
    shelf.use("98.7", reason="fin of a fish")
    out = Movement.objects.get(kind="use")
    addresses = [reverse(name) for name in FOR_EVERYBODY]
    addresses += [reverse(name, args=[shelf.material.pk]) for name in OF_A_MATERIAL]
    addresses += [
        reverse("movement-reverse", args=[out.pk]),
        reverse("material", args=[shelf.material.pk]) + f"?act={out.act}",
    ]
    for address in addresses:
        page = bench_client.get(address).content.decode()
        assert "98.7" in page or "12.246" in page or address == reverse("questions"), address
        for figure in ("€", "123.45", "122.46", "0.98", "96.00", "0.0048", "worth", "Worth"):
            assert figure not in page, (address, figure)


@pytest.mark.parametrize("name", MONEY_ONLY)
def test_what_costs_money_is_closed_to_the_bench(shelf, bench_client, send, name):
    address = reverse(name, args=[shelf.material.pk])
    assert bench_client.get(address).status_code == 403
    assert send(name, delivery(quantity="5 kg", price="3"), shelf.material.pk, client=bench_client).status_code == 403
    assert not Movement.objects.exists()


def test_a_delivery_is_not_undone_at_the_bench(shelf, bench_client, send):
    receipt = shelf.receive("10", "1").movements.get()
    assert bench_client.get(reverse("movement-reverse", args=[receipt.pk])).status_code == 403
    assert send("movement-reverse", {}, receipt.pk, client=bench_client).status_code == 403
    assert shelf.on_hand == 10


def test_the_list_is_found_by_word_shelf_and_what_needs_a_look(shelf, keeper_client):
    today = timezone.localdate()
    Material.objects.create(key="cloth", name="Glass cloth", kind="cloth", unit="m2", shelf="B2")
    shelf.receive("10", "1", received_on=date(2026, 1, 1), use_by=today + timedelta(days=3))

    def found(query: str) -> list[str]:
        page = keeper_client.get(reverse("store") + query)
        return [material.name for material in page.context["page"]]

    whole = keeper_client.get(reverse("store")).context
    assert [material.name for material in whole["astray"]] == ["Laminating resin"]
    assert [(name, rows[0].name) for _, name, rows in whole["shelves"]] == [
        ("A1", "Laminating resin"),
        ("B2", "Glass cloth"),
    ]
    assert found("?q=CLOTH+gl") == ["Glass cloth"]
    assert found("?shelf=A1") == found("?look=1") == ["Laminating resin"]
    assert found("?q=nothing") == []
    assert b"Nothing found" in keeper_client.get(reverse("store") + "?q=nothing").content


def test_what_is_out_of_line_stands_first_the_most_pressing_first(shelf, keeper_client):
    """A job short of cloth then resin past its date, hardener that soon will be, tape that is used up."""

    def there(name: str, quantity: str, **lot: object) -> Material:
        one = Material.objects.create(key=name.lower(), name=name, kind="tape", unit="g", shelf="B2")
        ledger.receive(
            lot=Lot(material=one, received_on=TODAY, **lot), quantity=D(quantity), value=D(1), signed=shelf.signed()
        )
        return one

    cloth, tape = there("Cloth", "5"), there("Tape", "5")
    there("Hardener", "5", use_by=TODAY + timedelta(days=9))
    there("Plenty", "5000", use_by=TODAY + timedelta(days=200))
    shelf.receive("10", "1", received_on=TODAY - timedelta(days=200), use_by=TODAY - timedelta(days=1))
    ledger.use(material=tape, quantity=D(5), signed=shelf.signed())
    reserve(wants=[Want(cloth, D(8), TODAY + timedelta(days=2))], at=NOW)
    counting.start_count(shelf="B2", everything=False, blind=True, signed=Signed(shelf.by, NOW))
    Material.objects.create(key="never", name="Never counted", kind="tape", unit="g")

    page = keeper_client.get(reverse("store"))
    said = {one.name: (one.state, one.said) for one in page.context["astray"]}
    assert list(said) == ["Cloth", "Laminating resin", "Hardener", "Tape"]
    assert said["Cloth"] == ("late", "3\u00a0g will be missing")
    assert said["Tape"] == ("ahead", "used up")
    html = page.content.decode()
    assert html.index("Counting B2") < html.index("Cloth") < html.index("By shelf")
    assert "0 of 3 done" in html
    assert keeper_client.get(reverse("store"), {"look": "1"}).context["page"].paginator.count == 4


def asked(client, material: Material) -> dict[str, int]:
    """How many queries each page of the store takes."""
    pages = {name: reverse(name) for name in ("store", "questions", "suppliers", "receive")}
    pages |= {name: reverse(name, args=[material.pk]) for name in ("material", "use", "write-off")}
    counts = {}
    for name, address in pages.items():
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        counts[name] = len(queries)
    return counts


def test_pages_take_as_many_queries_with_5_rows_as_with_500(shelf, keeper_client):
    supplier = Supplier.objects.create(name="Slipway Supplies")

    def stock_up(first: int, last: int) -> None:
        numbers = range(first, last)
        Material.objects.bulk_create(
            Material(key=f"m{n}", name=f"M{n}", kind="resin", unit="g", shelf=f"A{n % 9}") for n in numbers
        )
        packs = [Pack(material=shelf.material, supplier=supplier, words=f"{n} g", content=D(1)) for n in numbers[:40]]
        for pack in Pack.objects.bulk_create(packs):
            PackPrice.objects.create(pack=pack, price=D(1), from_day=date(2026, 1, 1))
        Supplier.objects.bulk_create(Supplier(name=f"S{n}") for n in numbers)
        lots = [
            Lot(material=material, received_on=date(2026, 1, 1), quantity_left=D(1))
            for material in Material.objects.filter(key__in=[f"m{n}" for n in numbers])
        ]
        Lot.objects.bulk_create(lots)
        for _ in numbers[:40]:
            shelf.receive("1", "1", supplier=supplier)
            shelf.use("1")
            shelf.receive("1", "1", supplier=supplier)
        question = {"material": shelf.material, "movement": shelf.material.movements.first(), "words": "?"}
        StockQuestion.objects.bulk_create(StockQuestion(**question, asked_at=timezone.now()) for n in numbers)

    stock_up(0, 5)
    few = asked(keeper_client, shelf.material)
    stock_up(5, 500)
    assert asked(keeper_client, shelf.material) == few
    assert max(few.values()) <= 17, few


@pytest.mark.parametrize(
    ("quantity", "unit", "said"),
    [
        ("19.045189", "m2", "19.045 m²"),
        ("12.499999", "m", "12.5 m"),
        ("39600", "g", "39.6 kg"),
        ("0.0004", "m2", "0.0004 m²"),
        ("10", "piece", "10 pieces"),
    ],
)
def test_an_amount_is_said_as_fine_as_it_can_be_measured_and_never_as_nothing(quantity, unit, said):
    assert spoken(D(quantity), unit).replace("\u00a0", " ") == said


def test_a_roving_typed_by_weight_is_turned_into_metres_wherever_it_is_asked_for():
    box = StockField(label="How much")
    box.of(Material(unit="m", facts={"tex": 2000}))
    assert box.clean("20 g") == D(10)  # 2000 g a kilometre
