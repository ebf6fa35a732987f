"""Billing: deposits, invoices and credit notes, payments and what is paid back, and each job's own truth."""

from quotes.billing.issuing import credit_invoice, issue_invoice, left_of_lines
from quotes.billing.itemising import itemised
from quotes.billing.paying import balance, on_account, pay, refund, suggested_deposit, take_deposit, to_pay
from quotes.billing.quick import two_minute_job, walk_in
from quotes.billing.selling import Goods, goods_on, goods_rate, sales_standing, sell_goods
from quotes.billing.truth import Spent, Truth, job_truth

__all__ = [
    "Goods",
    "Spent",
    "Truth",
    "balance",
    "credit_invoice",
    "goods_on",
    "goods_rate",
    "issue_invoice",
    "itemised",
    "job_truth",
    "left_of_lines",
    "on_account",
    "pay",
    "refund",
    "sales_standing",
    "sell_goods",
    "suggested_deposit",
    "take_deposit",
    "to_pay",
    "two_minute_job",
    "walk_in",
]
