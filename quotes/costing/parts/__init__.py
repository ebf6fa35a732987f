"""What an estimate is made of: shop and board handed in, needs, use, measures, results, refusals."""
