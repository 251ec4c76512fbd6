# mypy: disable-error-code="untyped-decorator,no-untyped-def,no-untyped-call"
"""Compiled loops of the front end: what each sample leaves behind for the next."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_QUIET_V = 0.25  # a junction this far forward carries less than a picoampere per femtoampere of saturation
_NEWTON_STEPS = 4


@njit(cache=True)
def diode_current(drive_v, series_ohm, scale_v, saturation_a):
    """Current of a junction behind a resistor: i R + s ln(1 + i/i0) = drive, through w + ln w = a by Newton."""
    if drive_v <= _QUIET_V:
        return 0.0
    a = math.log(saturation_a * series_ohm / scale_v) + (drive_v + saturation_a * series_ohm) / scale_v
    if a > 2.0:
        w = a - math.log(a)
    else:
        w = math.exp(a) / (1.0 + math.exp(a))
    for _ in range(_NEWTON_STEPS):
        last = w
        w = w * (1.0 + a - math.log(w)) / (1.0 + w)
        if abs(w - last) < 1e-12 * w:
            break
    return scale_v / series_ohm * w - saturation_a


@njit(cache=True)
def coupling_current(open_v, leak_s, source_ohm, rail_v, diode_ohm, scale_v, saturation_a):
    """Current through the coupling capacitor into diodes or leak, the capacitor's own voltage already taken off."""
    if open_v > rail_v + _QUIET_V:
        return diode_current(open_v - rail_v, source_ohm + diode_ohm, scale_v, saturation_a)
    if open_v < -_QUIET_V:
        return -diode_current(-open_v, source_ohm + diode_ohm, scale_v, saturation_a)
    return open_v * leak_s


@njit(cache=True)
def coupled(level_v, start_v, pixel_s, phase, clamp_from, clamp_until, farad, source_ohm, clamp_ohm, leak_ohm, rail_v,
            diode_ohm, scale_v, saturation_a, out):  # fmt: skip
    """Voltage behind coupling capacitor, clamp and diodes at each sampling instant; gives the charge it ends with.

    level_v, out: (line, sample), in the order of time. Each sample is one midpoint step; the clamp is exact.
    """
    charge_v = start_v
    lines, samples = level_v.shape
    decay = math.exp(-pixel_s / ((source_ohm + clamp_ohm) * farad))
    part = math.exp(-phase * pixel_s / ((source_ohm + clamp_ohm) * farad))
    divided = clamp_ohm / (source_ohm + clamp_ohm)
    step = pixel_s / farad
    leak_s = 1.0 / (source_ohm + leak_ohm)
    top_v = rail_v + _QUIET_V
    # between the diodes the midpoint steps are the same product for every sample
    leaks = step * leak_s * (1.0 - 0.5 * step * leak_s)
    felt = (1.0 - source_ohm * leak_s) * (1.0 - phase * step * leak_s)
    for line in range(lines):
        for at in range(samples):
            here_v = level_v[line, at]
            open_v = here_v - charge_v
            if clamp_from <= at < clamp_until:
                out[line, at] = open_v * part * divided
                charge_v = here_v - open_v * decay
            elif -_QUIET_V <= open_v <= top_v:
                out[line, at] = open_v * felt
                charge_v += open_v * leaks
            else:
                begin = coupling_current(open_v, leak_s, source_ohm, rail_v, diode_ohm, scale_v, saturation_a)
                middle_v = open_v - 0.5 * step * begin
                middle = coupling_current(middle_v, leak_s, source_ohm, rail_v, diode_ohm, scale_v, saturation_a)
                # the current runs nearly straight through the sample
                now = begin + 2.0 * phase * (middle - begin)
                passed_v = phase * step * (begin + phase * (middle - begin))
                out[line, at] = open_v - passed_v - now * source_ohm
                charge_v += step * middle
    return charge_v


@njit(cache=True)
def recovered(input_v, start_v, pixel_s, phase, share, tau_s, linear_v, out):
    """Output of an input stage that clips and recovers late; gives the state it ends with.

    While overloaded the state runs to share/(1+share) of the overload at the rate (1+share)/tau, else it decays. What
    comes out is the input less the state, at most the linear level. Exact for an input that stands still in a pixel.
    """
    state_v = start_v
    lines, samples = input_v.shape
    first_s = phase * pixel_s
    rest_s = pixel_s - first_s
    decay_first, decay_rest = math.exp(-first_s / tau_s), math.exp(-rest_s / tau_s)
    fast_first, fast_rest = math.exp(-(1.0 + share) * first_s / tau_s), math.exp(-(1.0 + share) * rest_s / tau_s)
    for line in range(lines):
        for at in range(samples):
            over_v = input_v[line, at] - linear_v
            state_v = _moved(state_v, over_v, first_s, share, tau_s, decay_first, fast_first)
            shown_v = over_v - state_v
            out[line, at] = linear_v + (shown_v if shown_v < 0.0 else 0.0)
            state_v = _moved(state_v, over_v, rest_s, share, tau_s, decay_rest, fast_rest)
    return state_v


@njit(cache=True)
def _moved(state_v, over_v, for_s, share, tau_s, decay, fast):
    """State after some time with one overload."""
    if over_v - state_v > 0.0:
        goal_v = share * over_v / (1.0 + share)
        if over_v <= 0.0 and over_v < goal_v:  # leaves overload on the way: a state below zero comes back
            gone_s = tau_s / (1.0 + share) * math.log((state_v - goal_v) / (over_v - goal_v))
            if gone_s < for_s:
                return over_v * math.exp(-(for_s - gone_s) / tau_s)
        return goal_v + (state_v - goal_v) * fast
    if over_v > 0.0:  # the state decays until the overload is felt
        waits_s = tau_s * math.log(state_v / over_v)
        if waits_s < for_s:
            goal_v = share * over_v / (1.0 + share)
            return goal_v + (over_v - goal_v) * math.exp(-(1.0 + share) * (for_s - waits_s) / tau_s)
    return state_v * decay


@njit(cache=True)
def sagging(drawn_a, start_v, keep, regulator_ohm, esr_ohm, out):
    """Sag of the pins' supply, pixel by pixel; the regulator follows late, the capacitors' resistance at once."""
    sag_v = start_v
    for at in range(drawn_a.size):
        out[at] = sag_v + esr_ohm * drawn_a[at]
        sag_v = sag_v * keep + regulator_ohm * drawn_a[at] * (1.0 - keep)
    return sag_v


@njit(cache=True)
def chance(seed, at):
    """Number drawn for one sample, mean 0, deviation 1, nearly normal: four 16-bit parts of one scrambled word."""
    word = np.uint64(seed) + np.uint64(at + 1) * np.uint64(0x9E3779B97F4A7C15)
    word = (word ^ (word >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    word = (word ^ (word >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    word = word ^ (word >> np.uint64(31))
    mask = np.uint64(0xFFFF)
    total = (word & mask) + (word >> np.uint64(16) & mask) + (word >> np.uint64(32) & mask) + (word >> np.uint64(48))
    return (np.float64(total) - 131070.0) * (math.sqrt(3.0) / 65536.0)


@njit(cache=True)
def converted(input_v, full_v, noise_lsb, seed, out):
    """Numbers 0 to 255 of a converter."""
    scale = 255.0 / full_v
    lines, samples = input_v.shape
    for line in range(lines):
        for at in range(samples):
            number = input_v[line, at] * scale + 0.5
            if noise_lsb > 0.0:
                number += noise_lsb * chance(seed, line * samples + at)
            out[line, at] = np.uint8(min(max(number, 0.0), 255.0))


@njit(cache=True)
def jittered(input_v, slope, late_s, jitter_s, seed):
    """Adds to each sample what its shifted instant makes of the slope."""
    lines, samples = input_v.shape
    for line in range(lines):
        for at in range(samples):
            shift_s = -late_s[line % late_s.shape[0], at]
            if jitter_s > 0.0:
                shift_s += jitter_s * chance(seed, line * samples + at)
            input_v[line, at] += slope[line, at] * shift_s
