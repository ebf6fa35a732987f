"""From take-in to paid."""

from django.urls import path

from quotes.views import pricelist, recipe_editor, recipes, repricing

# --- take-in, ways, quotes ---------------------------------------------------------------------------------------------


# --- rack, jobs, bench, money ------------------------------------------------------------------------------------------


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
    path("price-list/", pricelist.price_list, name="price-list"),
    path("price-list/page/", pricelist.price_list_web, name="price-list-web"),
    path("price-list/print/", pricelist.price_list_print, name="price-list-print"),
    path("price-list/paper/", pricelist.price_list_pdf, name="price-list-pdf"),
    path("price-list/fill/", pricelist.price_list_fill, name="price-list-fill"),
    path("price-list/row/new/", pricelist.price_row_new, name="price-row-new"),
    path("price-list/row/<int:pk>/", pricelist.price_row, name="price-row"),
    path("price-list/row/<int:pk>/move/", pricelist.price_row_move, name="price-row-move"),
    path("repricing/", repricing.repricing_page, name="repricing"),
]

urlpatterns = [*RECIPES]
