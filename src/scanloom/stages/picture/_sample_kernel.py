# mypy: disable-error-code="untyped-decorator"
"""Compiled loops from pixel levels to what a display samples: one filter at pixel rate for each sampling phase."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

Floats = Any  # arrays as numba sees them


@njit(cache=True, fastmath={"reassoc", "contract", "nsz"})
def sampled_evenly(padded_v: Floats, share: Floats, before: int, line_px: int, out: Floats) -> None:
    """Filter whose phases come round with every pixel; out: (line, pixel, phase), padded: `before` pixels more in front."""
    phases, taps = share.shape
    row = np.empty(line_px)
    for line in range(out.shape[0]):
        start = before + line * line_px
        for phase in range(phases):
            row[:] = 0.0
            for tap in range(taps):
                weight = share[phase, tap]
                begin = start - tap
                for at in range(line_px):
                    row[at] += weight * padded_v[begin + at]
            for at in range(line_px):
                out[line, at, phase] = row[at]


@njit(cache=True, fastmath={"reassoc", "contract", "nsz"})
def sampled_freely(
    padded_v: Floats, share: Floats, before: int, line_px: int, pixel: Floats, phase: Floats, out: Floats
) -> None:
    """Filter for samples anywhere in the line, each in a pixel and with a phase of its own; out: (line, sample)."""
    taps = share.shape[1]
    for line in range(out.shape[0]):
        start = before + line * line_px
        for at in range(out.shape[1]):
            newest = start + pixel[at]
            total = 0.0
            for tap in range(taps):
                total += share[phase[at], tap] * padded_v[newest - tap]
            out[line, at] = total
