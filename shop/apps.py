from django.apps import AppConfig
from django.core import checks


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from shop.platform.schema import can_be_migrated

        checks.register(can_be_migrated, checks.Tags.database)
