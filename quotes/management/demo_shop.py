"""The shop of the demo: Marram Board Repairs in Portmarram, a made-up town on the Irish coast.

Everybody and everything in it is invented. Pack sizes and prices are plausible, invented, and of no real supplier.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal as D

from inventory.models import Kind, Lot, Material, Pack, PackPrice, Supplier
from inventory.stock import ledger
from shop.business.hands import set_hours
from shop.business.setup import set_up
from shop.models import Board, Customer, Profile, Role, User
from shop.platform.acts import Signed

PASSWORD = "marram-grass"  # noqa: S105 printed on purpose: the demo's logins are for trying out
LOGINS = {
    "orla": ("Orla Sands", Role.KEEPER),
    "maeve": ("Maeve Dunes", Role.COUNTER),
    "fionn": ("Fionn Shingle", Role.BENCH),
}

PROFILE = {
    "name": "Marram Board Repairs",
    "address": "2 Slip Lane\nPortmarram",
    "country": "IE",
    "phone": "020 910 0123",
    "email": "bench@marram.example",
    "website": "marram.example",
    "currency": "EUR",
    "locale": "en_IE",
    "timezone": "Europe/Dublin",
    "tax_profile": "ie-vat",
    "tax_number": "IE1234567T",
    "prices_include_tax": True,
    "margin_percent": D("24"),
    "minimum_price": D("30"),
    "price_step": D("5"),
    "deposit_percent": D("30"),
    "quote_days": 14,
    "terms": (
        "A repaired board is rarely as light as a new one, and a faded board never "
        "matches fully. What the law promises you for our work you have in any case. Boards not collected are kept as "
        "local law asks."
    ),
    "may_turn_up": "Once a board is open we see how far water and old filler reach.",
    "payment_words": "In cash or by card when you collect, or by bank transfer with the invoice’s number.",
    "shop_temperature_c": D("20"),
    "bench_hours_per_day": D("5"),
}

TAX_RATES = [
    {
        "name": "VAT on repairs",
        "category": "S",
        "percent": D("13.5"),
        "for_repairs": True,
        "from_day": date(2026, 1, 1),
    },
    {"name": "VAT on goods", "category": "S", "percent": D("23"), "for_repairs": False, "from_day": date(2026, 1, 1)},
]

SUPPLIERS = {"corncrake": ("Corncrake Composites", 6), "dunlin": ("Dunlin Yard Stores", 3), "tern": ("Tern Paint", 8)}

# material: supplier, pack in words, content in the material's unit, price without VAT, packs on the shelf
PACKS: dict[str, tuple[str, str, str, str, int]] = {
    "resin-lam": ("corncrake", "5 kg tin", "5000", "41.50", 2),
    "resin-gloss": ("corncrake", "5 kg tin", "5000", "46.00", 1),
    "mekp": ("corncrake", "500 mL bottle", "500", "12.40", 1),
    "wax-styrene": ("corncrake", "250 mL bottle", "250", "8.90", 1),
    "epoxy-resin": ("corncrake", "5 kg can", "5000", "98.00", 1),
    "epoxy-hardener": ("corncrake", "2.15 kg can", "2150", "52.00", 1),
    "foam-32": ("corncrake", "2 kg kit", "2000", "35.00", 1),
    "foam-56": ("corncrake", "2 kg kit", "2000", "36.00", 1),
    "foam-64": ("corncrake", "2 kg kit", "2000", "37.50", 1),
    "microspheres": ("corncrake", "500 g bag", "500", "17.00", 1),
    "milled-fibre": ("corncrake", "1 kg bag", "1000", "13.20", 1),
    "chopped-strand": ("corncrake", "1 kg bag", "1000", "11.80", 1),
    "cloth-4oz": ("corncrake", "30 in × 25 m roll", "19.05", "118.00", 1),
    "cloth-6oz": ("corncrake", "30 in × 25 m roll", "19.05", "146.00", 1),
    "roving": ("corncrake", "spool of 900 m", "900", "14.80", 1),
    "tape-masking": ("dunlin", "box of 6 × 50 m", "300", "25.20", 1),
    "masking-film": ("dunlin", "roll of 60 m2", "60", "14.40", 1),
    "release-film": ("corncrake", "roll of 15 m2", "15", "12.50", 1),
    "disc-p80": ("dunlin", "box of 50 discs", "50", "31.00", 1),
    "disc-p100": ("dunlin", "box of 50 discs", "50", "30.00", 1),
    "disc-p120": ("dunlin", "box of 50 discs", "50", "30.00", 1),
    "disc-p180": ("dunlin", "box of 50 discs", "50", "29.00", 1),
    "disc-p240": ("dunlin", "box of 50 discs", "50", "29.00", 1),
    "disc-p320": ("dunlin", "box of 50 discs", "50", "29.00", 1),
    "sheet-p400": ("dunlin", "50 sheets", "50", "36.00", 1),
    "sheet-p600": ("dunlin", "50 sheets", "50", "36.00", 1),
    "sheet-p800": ("dunlin", "50 sheets", "50", "38.00", 1),
    "sheet-p1200": ("dunlin", "50 sheets", "50", "41.00", 1),
    "basecoat": ("tern", "1 L tin", "1000", "84.00", 1),
    "thinner": ("tern", "5 L can", "5000", "39.00", 1),
    "clear-2k": ("tern", "1 L tin", "1000", "46.00", 1),
    "clear-hardener": ("tern", "500 mL tin", "500", "31.00", 1),
    "compound": ("tern", "1 kg tub", "1000", "27.00", 1),
    "polishing-pad": ("tern", "each", "1", "13.50", 2),
    "acetone": ("corncrake", "5 L can", "5000", "22.50", 1),
    "gloves": ("dunlin", "box of 50 pairs", "50", "11.50", 2),
    "cup": ("dunlin", "sleeve of 50", "50", "8.80", 2),
    "stick": ("dunlin", "box of 100", "100", "3.40", 1),
    "brush": ("dunlin", "box of 24", "24", "12.90", 2),
    "rag": ("dunlin", "bale of 80", "80", "19.00", 1),
    "cartridge-set": ("dunlin", "pair", "1", "15.50", 2),
    "dust-bag": ("dunlin", "box of 5", "5", "36.00", 1),
    "router-bit": ("dunlin", "each", "1", "23.00", 2),
    "blade": ("dunlin", "box of 50", "50", "14.00", 1),
    "ca-glue": ("dunlin", "50 g bottle", "50", "15.80", 1),
    "syringe": ("dunlin", "box of 20", "20", "7.60", 1),
    "needle": ("dunlin", "box of 50", "50", "6.90", 1),
    "dowel": ("dunlin", "bundle of 10", "10", "8.50", 1),
    "stringer": ("dunlin", "2.4 m strip", "2.4", "10.10", 2),
    "fin-box": ("corncrake", "bag of 4", "4", "37.00", 1),
    "leash-plug": ("corncrake", "bag of 5", "5", "23.50", 1),
}

# counter goods: name, supplier, pack in words, pieces, price without VAT, and what one sells for without VAT
GOODS: dict[str, tuple[str, str, str, str, str, str]] = {
    "wax-cold": ("Wax bar, cold water", "dunlin", "box of 24", "24", "28.80", "2.03"),
    "leash-6": ("Leash, 6 ft", "dunlin", "each", "1", "13.00", "24.39"),
}


def open_shop(*, at: datetime) -> tuple[Profile, dict[str, User]]:
    """Set the shop up at a time in the past: its rates, logins and series, with materials and recipes."""
    name, _ = LOGINS["orla"]
    profile = set_up(
        profile=PROFILE,
        tax_rates=TAX_RATES,
        wage=D("22"),
        overhead_monthly=D("1080"),
        productive_hours=D("120"),
        series={"tag": 31, "quote": 143, "invoice": 88, "receipt": 104, "credit": 3},
        keeper={"username": "orla", "name": name, "password": PASSWORD},
        at=at,
    )
    people = {"orla": User.objects.get(username="orla")}
    for login, (name, role) in LOGINS.items():
        if login not in people:
            people[login] = User.objects.create_user(login, PASSWORD, name=name, role=role)
    return profile, people


def say_hours(people: dict[str, User], *, at: datetime) -> None:
    """Fionn is at the bench on weekdays, Orla helps on two mornings."""
    long, short = [(time(9), time(13)), (time(14), time(17))], [(time(9, 30), time(12, 30))]
    weeks = {"fionn": dict.fromkeys(range(5), long), "orla": {1: short, 3: short}}
    for login, week in weeks.items():
        set_hours(person=people[login], week=week, signed=Signed(people["orla"], at))


def fill_store(*, signed: Signed) -> int:
    """Receive the sample packs, each at its price, and goods for the counter; the number of lots received."""
    suppliers = {
        key: Supplier.objects.create(name=name, lead_days=days, note="Invented for the demo.")
        for key, (name, days) in SUPPLIERS.items()
    }
    day = signed.at.date()
    all_packs = PACKS | {
        key: (supplier, words, content, price, 1) for key, (_, supplier, words, content, price, _) in GOODS.items()
    }
    for key, (name, *_, sells_for) in GOODS.items():
        Material.objects.create(
            key=key, name=name, kind=Kind.COUNTER, unit="piece", shelf="Counter", facts={"sells_for": float(sells_for)}
        )
    for number, (key, (supplier, words, content, price, packs)) in enumerate(all_packs.items(), 1):
        material = Material.objects.get(key=key)
        pack = Pack.objects.create(
            material=material, supplier=suppliers[supplier], words=words, content=D(content), preferred=True
        )
        PackPrice.objects.create(pack=pack, price=D(price), from_day=day - timedelta(days=20))
        ledger.receive(
            lot=Lot(
                material=material,
                received_on=day,
                pack=pack,
                supplier=suppliers[supplier],
                delivery_note=f"{supplier[:2].upper()}-{100 + number // 20}",
            ),
            quantity=D(content) * packs,
            value=D(price) * packs,
            signed=signed,
        )
    return len(all_packs)


def niamh() -> tuple[Customer, Board]:
    """Niamh with her fish, whose fin box was crushed."""
    customer = Customer(name="Niamh Brennock", phone="020 910 0456", email="niamh@brennock.example")
    board = Board(
        name="5′6″ fish, white",
        maker="made by a friend",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("1676"),
        width_mm=D("533"),
        thickness_mm=D("62"),
        nose_mm=D("413"),
        tail_mm=D("407"),
        tail_shape=Board.Tail.FISH,
        fins="two keel boxes",
    )
    return customer, board


def tomas() -> tuple[Customer, Board]:
    """Tomás with his board."""
    customer = Customer(name="Tomás Garvane", phone="020 910 0789")
    board = Board(
        name="6′1″, blue rails",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("1854"),
        width_mm=D("483"),
        thickness_mm=D("60"),
        nose_mm=D("298"),
        tail_mm=D("371"),
        tail_shape=Board.Tail.SQUASH,
        fins="three boxes",
    )
    return customer, board


def surf_school() -> tuple[Customer, Board]:
    """A surf school with one of its boards, at a trade discount."""
    customer = Customer(
        name="Old Harbour Surf School",
        kind="trade",
        discount_percent=D("10"),
        phone="020 910 0222",
        address="The Old Harbour\nPortmarram",
    )
    board = Board(
        name="9′0″ school board 7",
        core=Board.Core.EPS,
        resin=Board.Resin.EPOXY,
        length_mm=D("2743"),
        width_mm=D("584"),
        thickness_mm=D("82"),
        nose_mm=D("457"),
        tail_mm=D("381"),
        tail_shape=Board.Tail.ROUND,
        fins="single box and side plugs",
    )
    return customer, board


def eoin() -> tuple[Customer, Board]:
    """Eoin with his round pin."""
    customer = Customer(name="Eoin Strandley", phone="020 910 0333", email="eoin@strandley.example")
    board = Board(
        name="6′4″ round pin",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("1930"),
        width_mm=D("489"),
        thickness_mm=D("61"),
        nose_mm=D("302"),
        tail_mm=D("349"),
        tail_shape=Board.Tail.PIN,
        fins="three boxes",
    )
    return customer, board


def saoirse() -> tuple[Customer, Board]:
    """Saoirse with her log."""
    customer = Customer(name="Saoirse Kellmore", phone="020 910 0444")
    board = Board(
        name="9′2″ log, amber tint",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("2794"),
        width_mm=D("578"),
        thickness_mm=D("76"),
        nose_mm=D("470"),
        tail_mm=D("375"),
        tail_shape=Board.Tail.SQUARE,
        fins="single box",
    )
    return customer, board


def ruadhan() -> tuple[Customer, Board]:
    """Ruadhán with his twin, of which little is known."""
    customer = Customer(name="Ruadhán Pier", phone="020 910 0555")
    board = Board(
        name="5′10″ twin, grey",
        length_mm=D("1778"),
        width_mm=D("508"),
        thickness_mm=D("64"),
        tail_shape=Board.Tail.SWALLOW,
        fins="two boxes",
    )
    return customer, board


def bran() -> tuple[Customer, Board]:
    """Bran with his log."""
    customer = Customer(name="Bran Tidewell", phone="020 910 0666", email="bran@tidewell.example")
    board = Board(
        name="9′4″ log, cream",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("2845"),
        width_mm=D("584"),
        thickness_mm=D("79"),
        tail_shape=Board.Tail.SQUARE,
        fins="one glassed-on fin",
    )
    return customer, board


def club_board(number: int) -> tuple[Customer, Board]:
    """One of the board club's logs; the club is one customer."""
    customer = Customer.objects.filter(name="Portmarram Board Club").first() or Customer(
        name="Portmarram Board Club", kind="trade", phone="020 910 0777", address="The Boathouse\nPortmarram"
    )
    board = Board(
        name=f"9′0″ club log {number}",
        core=Board.Core.PU,
        resin=Board.Resin.POLYESTER,
        length_mm=D("2743"),
        width_mm=D("578"),
        thickness_mm=D("76"),
        tail_shape=Board.Tail.SQUARE,
        fins="one glassed-on fin",
    )
    return customer, board
