"""What goes with a country: taxes, numbers, currency, formats, usual entries."""
