"""Billing: deposits, invoices and credit notes, payments and what is paid back, and each job's own truth."""

from quotes.bench import on_account
from quotes.billing.crediting import credit_invoice, left_of_lines
from quotes.billing.issuing import issue_invoice
from quotes.billing.itemising import itemised
from quotes.billing.kept_deposits import keep_deposit
from quotes.billing.paying import balance, pay, suggested_deposit, take_deposit, to_pay
from quotes.billing.paying_back import Back, HeldMoney, held_without_invoice, refund, to_pay_back
from quotes.billing.quick import too_few_minutes, two_minute_job, walk_in
from quotes.billing.selling import Goods, goods_on, goods_rate, sales_standing, sell_goods
from quotes.lookback.repairs import RepairCost, cost_of_repairs
from quotes.lookback.truth import Truth, job_truth

__all__ = [
    "Back",
    "Goods",
    "HeldMoney",
    "RepairCost",
    "Truth",
    "balance",
    "cost_of_repairs",
    "credit_invoice",
    "goods_on",
    "goods_rate",
    "held_without_invoice",
    "issue_invoice",
    "itemised",
    "job_truth",
    "keep_deposit",
    "left_of_lines",
    "on_account",
    "pay",
    "refund",
    "sales_standing",
    "sell_goods",
    "suggested_deposit",
    "take_deposit",
    "to_pay",
    "to_pay_back",
    "too_few_minutes",
    "two_minute_job",
    "walk_in",
]
