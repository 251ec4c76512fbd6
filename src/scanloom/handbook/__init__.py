"""Sourced tables and their look-ups."""
