"""What to order, when and why: cover, reservations, orders."""
