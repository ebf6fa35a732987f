"""Pages of prices: recipes, price list, own figures, what moves them."""
