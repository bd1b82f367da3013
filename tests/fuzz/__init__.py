"""Damaged input for every door of the product, from a seed, so that a case can be tried again by its number."""
