"""Whole scenes compared, swept and searched: each calls the earlier steps again."""
