"""From cost to price, and the chance of losing on it."""
