from typing import Any

from django.apps import AppConfig
from django.db.models.signals import pre_save


def valuation_stays(sender: Any, instance: Any, raw: bool, **_: Any) -> None:
    """Wherever the shop's row is saved from: how stock is valued does not change under what has moved."""
    from inventory.ledger import may_switch_valuation

    if raw:  # a backup being restored brings its own movements
        return
    was = sender.objects.filter(pk=instance.pk).values_list("valuation", flat=True).first()
    if was is not None and was != instance.valuation:
        may_switch_valuation()


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        pre_save.connect(valuation_stays, sender="shop.Profile", dispatch_uid="valuation_stays")
