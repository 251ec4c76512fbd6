"""Nouns that every floor uses."""
