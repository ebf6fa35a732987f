"""As it is."""

from importlib import import_module

Migration = import_module("shop.migrations.0001_first_release").Migration
