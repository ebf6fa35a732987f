#!/usr/bin/env python
"""Django's command line for Dryrack."""

import os
import sys


def main() -> None:
    # --demo anywhere on the line means the demo's own database, never the user's.
    if "--demo" in sys.argv:
        sys.argv.remove("--demo")
        os.environ["DRYRACK_DEMO"] = "1"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
