"""What a reader of a fabrication file raises."""

from __future__ import annotations


class Damaged(Exception):
    """A file that cannot be read at all: what was given; what is allowed; what to do."""
