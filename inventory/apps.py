from typing import Any

from django.apps import AppConfig
from django.db.models.signals import pre_save


def valuation_stays(sender: Any, instance: Any, raw: bool, **_: Any) -> None:
    """Wherever the shop's row is saved from: how stock is valued does not change under what has moved."""
    from inventory.stock.ledger import may_switch_valuation

    if raw:  # a backup being restored brings its own movements
        return
    was = sender.objects.filter(pk=instance.pk).values_list("valuation", flat=True).first()
    if was is not None and was != instance.valuation:
        may_switch_valuation()


def days_change(sender: Any, instance: Any, raw: bool, **_: Any) -> None:
    """In another time zone a day is another day: the totals by day are worked out anew."""
    from inventory.models import Material
    from inventory.stock.ledger import lock
    from inventory.stock.totals import work_out_anew
    from shop.platform.acts import writing

    if raw:  # a backup being restored brings its own totals
        return
    was = sender.objects.filter(pk=instance.pk).values_list("timezone", flat=True).first()
    if was is not None and was != instance.timezone:
        with writing():
            lock(Material.objects.all())
            work_out_anew(instance.timezone)


def currency_changes(sender: Any, instance: Any, raw: bool, **_: Any) -> None:
    """In another currency a guess at a price is another number."""
    from inventory.catalogue.starting import guess_anew

    if raw:  # a backup being restored brings its own guesses
        return
    was = sender.objects.filter(pk=instance.pk).values_list("currency", flat=True).first()
    if was is not None and was != instance.currency:
        guess_anew(currency=instance.currency)


def bring_materials(sender: Any, profile: Any, **_: Any) -> None:
    """A new shop starts with the materials its starting recipes ask for, with guesses at their prices."""
    from inventory.catalogue.starting import load_starting_materials

    load_starting_materials(currency=profile.currency)


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from shop.business.setup import shop_set_up

        shop_set_up.connect(bring_materials, dispatch_uid="bring_materials")
        pre_save.connect(valuation_stays, sender="shop.Profile", dispatch_uid="valuation_stays")
        pre_save.connect(currency_changes, sender="shop.Profile", dispatch_uid="currency_changes")
        pre_save.connect(days_change, sender="shop.Profile", dispatch_uid="days_change")
