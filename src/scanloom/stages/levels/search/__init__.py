"""Search for parts: which resistors put a channel, or all of them at once, on its levels."""
