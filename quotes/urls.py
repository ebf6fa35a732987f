"""From take-in to paid."""

from django.urls import path, re_path

from quotes.views import (
    bench,
    jobs,
    learned,
    money,
    odds,
    own_figures,
    pricelist,
    quick,
    quotes,
    rack,
    recipe_editor,
    recipes,
    repricing,
    takein,
    ways,
)

# --- take-in, ways, quotes ---------------------------------------------------------------------------------------------

QUOTING = [
    path("take-in/new/", takein.takein_new, name="takein-new"),
    path("take-in/outline/", takein.takein_outline, name="takein-outline"),
    path("take-in/<int:pk>/", takein.takein, name="takein"),
    path("take-in/<int:pk>/change/", takein.takein_edit, name="takein-edit"),
    path("take-in/<int:pk>/slip/", takein.takein_slip, name="takein-slip"),
    path("take-in/<int:pk>/back/", takein.takein_back, name="takein-back"),
    path("take-in/<int:takein>/damage/", takein.damage_new, name="damage-new"),
    path("take-in/<int:takein>/quote/", quotes.quote_new, name="quote-new"),
    path("take-in/damage/<int:pk>/", takein.damage_edit, name="damage-edit"),
    path("take-in/damage/<int:pk>/remove/", takein.damage_remove, name="damage-remove"),
    re_path(r"^[tT]/(?P<tag>[^/]{1,20})$", takein.tag, name="tag"),
    path("quotes/", quotes.quotes, name="quotes"),
    path("quote/<int:pk>/", quotes.quote, name="quote"),
    path("quote/<int:pk>/change/", quotes.quote_edit, name="quote-edit"),
    path("quote/<int:pk>/board/", quotes.quote_board_new, name="quote-board-new"),
    path("quote/<int:pk>/customer/", quotes.quote_customer, name="quote-customer"),
    path("quote/<int:pk>/preview/", quotes.quote_preview, name="quote-preview"),
    path("quote/<int:pk>/work-out/", quotes.quote_work_out, name="quote-work-out"),
    path("quote/<int:pk>/send/", quotes.quote_send, name="quote-send"),
    path("quote/<int:pk>/paper/", quotes.quote_pdf, name="quote-pdf"),
    path("quote/<int:pk>/decline/", quotes.quote_decline, name="quote-decline"),
    path("quote/<int:pk>/replace/", quotes.quote_replace, name="quote-replace"),
    path("quote/board/<int:board>/way/", ways.way_new, name="way-new"),
    path("way/<int:pk>/", ways.way_edit, name="way-edit"),
    path("way/<int:pk>/up/", ways.way_up, name="way-up"),
    path("way/<int:pk>/remove/", ways.way_remove, name="way-remove"),
    path("way/<int:pk>/why/", ways.way_why, name="way-why"),
    path("way/<int:pk>/agree/", quotes.way_agree, name="way-agree"),
    path("way/<int:way>/line/", ways.way_line_new, name="way-line-new"),
    path("way/<int:way>/repair/", ways.part_new, name="part-new"),
    path("way/line/<int:pk>/", ways.way_line_edit, name="way-line-edit"),
    path("way/line/<int:pk>/remove/", ways.way_line_remove, name="way-line-remove"),
    path("way/repair/<int:pk>/", ways.part_edit, name="part-edit"),
    path("way/repair/<int:pk>/remove/", ways.part_remove, name="part-remove"),
]

# --- rack, jobs, bench, money ------------------------------------------------------------------------------------------

BENCH = [
    path("", rack.rack, name="rack"),
    path("job/<int:pk>/", jobs.job, name="job"),
    path("job/<int:pk>/sheet/", jobs.job_sheet, name="job-sheet"),
    path("job/<int:pk>/turned-up/", jobs.bench_note, name="bench-note"),
    path("job/<int:pk>/another-way/", jobs.job_another_way, name="job-another-way"),
    path("job/<int:pk>/stop/", jobs.job_stop, name="job-stop"),
    path("job/<int:pk>/release/", jobs.job_release, name="job-release"),
    path("job/<int:pk>/pick-up/", jobs.job_pickup, name="job-pickup"),
    path("job/<int:pk>/deposit/", money.deposit_new, name="deposit-new"),
    path("job/<int:pk>/invoice/", money.invoice_issue, name="invoice-issue"),
    path("job/<int:pk>/pay-back/", money.job_refund, name="job-refund"),
    path("job/extra/<int:pk>/", jobs.extra, name="extra"),
    path("job/extra/<int:pk>/price/", jobs.extra_price, name="extra-price"),
    path("job/extra/<int:pk>/answer/", jobs.extra_answer, name="extra-answer"),
    path("step/<int:pk>/", bench.step, name="step"),
    path("step/<int:pk>/start/", bench.step_start, name="step-start"),
    path("step/<int:pk>/done/", bench.step_done, name="step-done"),
    path("step/<int:pk>/mix/", bench.mix_new, name="mix-new"),
    path("step/<int:pk>/use/", bench.step_use, name="step-use"),
    path("step/<int:pk>/as-planned/", bench.step_as_planned, name="step-as-planned"),
    path("step/<int:pk>/not-done/", bench.step_reopen, name="step-reopen"),
    path("step/<int:pk>/again/", bench.step_redo, name="step-redo"),
    path("step/<int:pk>/not-needed/", bench.step_drop, name="step-drop"),
    path("step/use/<int:pk>/undo/", bench.use_undo, name="use-undo"),
    path("quick/", quick.quick, name="quick"),
    path("money/", money.money, name="money"),
    path("invoice/<int:pk>/", money.invoice, name="invoice"),
    path("invoice/<int:pk>/paper/", money.invoice_pdf, name="invoice-pdf"),
    path("invoice/<int:pk>/itemised/", money.invoice_itemised, name="invoice-itemised"),
    path("invoice/<int:pk>/payment/", money.payment_new, name="payment-new"),
    path("invoice/<int:pk>/pay-back/", money.refund_new, name="refund-new"),
    path("invoice/<int:pk>/credit/", money.invoice_credit, name="invoice-credit"),
    path("payment/<int:pk>/", money.receipt, name="receipt"),
    path("payment/<int:pk>/paper/", money.receipt_pdf, name="receipt-pdf"),
]

# --- recipes, price list, repricing ------------------------------------------------------------------------------------

RECIPES = [
    path("recipes/", recipes.recipes, name="recipes"),
    path("recipes/new/", recipes.recipe_new, name="recipe-new"),
    path("recipes/<slug:key>/", recipes.recipe, name="recipe"),
    path("recipes/<slug:key>/copy/", recipes.recipe_copy, name="recipe-copy"),
    path("recipes/<slug:key>/retire/", recipes.recipe_retire, name="recipe-retire"),
    path("recipes/<slug:key>/versions/", recipes.recipe_versions, name="recipe-versions"),
    path("recipes/<slug:key>/versions/<int:number>/", recipes.recipe_version, name="recipe-version"),
    path("recipes/<slug:key>/edit/", recipe_editor.recipe_edit, name="recipe-edit"),
    path("recipes/<slug:key>/edit/words/", recipe_editor.recipe_words, name="recipe-words"),
    path("recipes/<slug:key>/edit/reference/", recipe_editor.recipe_reference, name="recipe-reference"),
    path("recipes/<slug:key>/edit/step/new/", recipe_editor.recipe_step_new, name="recipe-step-new"),
    path("recipes/<slug:key>/edit/step/<int:number>/", recipe_editor.recipe_step, name="recipe-step"),
    path("recipes/<slug:key>/edit/measure/new/", recipe_editor.recipe_measure_new, name="recipe-measure-new"),
    path("recipes/<slug:key>/edit/measure/<int:number>/", recipe_editor.recipe_measure, name="recipe-measure"),
    path("recipes/<slug:key>/edit/place/new/", recipe_editor.recipe_place_new, name="recipe-place-new"),
    path("recipes/<slug:key>/edit/place/<int:number>/", recipe_editor.recipe_place, name="recipe-place"),
    path("recipes/<slug:key>/sure/", odds.recipe_sure, name="recipe-sure"),
    path("way/<int:pk>/sure/", odds.way_sure, name="way-sure"),
    path("price-list/", pricelist.price_list, name="price-list"),
    path("price-list/page/", pricelist.price_list_web, name="price-list-web"),
    path("price-list/print/", pricelist.price_list_print, name="price-list-print"),
    path("price-list/paper/", pricelist.price_list_pdf, name="price-list-pdf"),
    path("price-list/fill/", pricelist.price_list_fill, name="price-list-fill"),
    path("price-list/row/new/", pricelist.price_row_new, name="price-row-new"),
    path("price-list/row/<int:pk>/", pricelist.price_row, name="price-row"),
    path("price-list/row/<int:pk>/move/", pricelist.price_row_move, name="price-row-move"),
    path("figures/", own_figures.figures, name="figures"),
    path("figures/<slug:name>/", own_figures.figure, name="figure"),
    path("figures/<slug:name>/trade/", own_figures.figure_leave, name="figure-leave"),
    path("repricing/", repricing.repricing_page, name="repricing"),
]

# --- learned -----------------------------------------------------------------------------------------------------------

LEARNED = [
    path("learned/", learned.learned, name="learned"),
    path("learned/job/<int:pk>/", learned.learned_job, name="learned-job"),
]

urlpatterns = [*QUOTING, *BENCH, *RECIPES, *LEARNED]
