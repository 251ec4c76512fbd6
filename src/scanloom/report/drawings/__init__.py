"""Drawings of what the stages found, one function each, as SVG with words beside it."""

from scanloom.report.drawings.drawing import Drawing, Table, patterns

__all__ = ["Drawing", "Table", "patterns"]
