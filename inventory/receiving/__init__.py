"""Deliveries and suppliers' price lists: what comes in and what it really cost."""
