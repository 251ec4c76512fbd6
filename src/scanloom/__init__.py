"""Plan, prove and build a wall of analogue displays on one small microcontroller."""

__version__ = "0.1.0"
