"""One shop with something in every corner that a backup could lose.

Exact numbers, PDFs, links, microseconds, a photo.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.apps import apps
from PIL import Image

from inventory.models import Lot, Material
from inventory.stock import ledger
from quotes.models import Damage, Document, TakeIn
from shop.models import Board, JournalEntry, Photo, User
from shop.papers.paper import fingerprint
from shop.people import customers as people
from shop.people import pictures
from shop.platform.acts import Signed
from shop.platform.schema import kept_models

ODD_MOMENT = datetime(2026, 11, 25, 9, 0, 0, 123_457, tzinfo=UTC)
EVERY_BYTE = bytes(range(256)) * 4


def picture(width: int = 60, height: int = 40) -> bytes:
    """A JPEG as a phone might send it."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), "teal").save(out, "JPEG")
    return out.getvalue()


def customer(by: User, name: str = "Niamh Ó Sé 🏄", **more):
    return people.add_customer(signed=Signed(by, ODD_MOMENT), name=name, **more)


def board(by: User, owner, **more) -> Board:
    sizes = {"length_mm": Decimal("1676.4"), "width_mm": Decimal("527.1")}
    return people.add_board(signed=Signed(by, ODD_MOMENT), owner=owner, **{"name": "5′6″ fish", **sizes, **more})


def photo(by: User, of: Board) -> Photo:
    tidy = pictures.tidied(io.BytesIO(picture()))
    return people.add_photos(signed=Signed(by, ODD_MOMENT), board=of, pictures=[tidy])[0]


def fill_every_corner(by: User) -> None:
    fish = board(by, customer(by, discount_percent=Decimal("9.975")))
    shot = photo(by, fish)
    resin = Material.objects.create(
        key="resin", name="Laminating resin", kind="resin", unit="g", facts={"solids": 0.58}
    )
    moment = {"signed": Signed(by, ODD_MOMENT)}
    ledger.receive(
        lot=Lot(material=resin, received_on=ODD_MOMENT.date()),
        quantity=Decimal("20000.001"),
        value=Decimal("96.1237"),
        **moment,
    )
    ledger.use(material=resin, quantity=Decimal("27.123"), **moment)
    takein = TakeIn.objects.create(
        tag="001",
        board=fish,
        brought_by=fish.owner,
        received_at=ODD_MOMENT,
        by=by,
        checks=[{"line": "Dry?", "ok": True}],
    )
    damage = Damage.objects.create(
        takein=takein,
        number=1,
        kind="box",
        side="bottom",
        from_tail_mm=Decimal(230),
        from_stringer_mm=Decimal("-150.5"),
    )
    damage.photos.add(shot)
    Document.objects.create(
        kind="quote",
        name="quote.pdf",
        pdf=EVERY_BYTE,
        sha256=fingerprint(EVERY_BYTE),
        content={"sum": "485.00", "words": "′ ″ é"},
        made_at=ODD_MOMENT,
    )
    JournalEntry.objects.create(
        at=ODD_MOMENT + timedelta(microseconds=1), verb="test", about="shop.profile:1", words="a ‮turned word"
    )


def everything(registry=apps) -> dict[str, list[dict[str, object]]]:
    """Every row of the user's, by table, as Python values to be compared; `registry` has the models of a version."""
    return {
        model._meta.label: [
            {name: bytes(v) if isinstance(v, memoryview) else v for name, v in row.items()}
            for row in model._base_manager.order_by("pk").values()
        ]
        for model in kept_models(registry)
    }
