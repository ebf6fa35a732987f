"""Pages of money: invoices, payments, sales, two-minute jobs."""
