"""Channels as decks for a circuit simulator, and the same channels in our terms."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scanloom.circuit.line import UniformLine
from scanloom.circuit.signal_path import Leg, SignalPath

RAIL_V = 3.3
START_S = 5e-9


@dataclass(frozen=True)
class Case:
    """One channel, what it sends, and how its line is to be simulated."""

    name: str
    path: SignalPath
    bits: tuple[tuple[int, ...], ...]
    """For each leg, most significant first, its bit in each pixel."""
    pixel_s: float
    rise_s: float
    loss: Literal["none", "constant", "skin"]

    @property
    def until_s(self) -> float:
        return START_S + len(self.bits[0]) * self.pixel_s + self.path.length_m * self.path.line.delay_s_per_m * 2.0

    @property
    def drive_v(self) -> NDArray[np.float64]:
        """Shape (pixels, legs)."""
        return RAIL_V * np.array(self.bits, dtype=float).T


def straight(bits: tuple[int, ...], pixel_s: float, rise_s: float, high: float = RAIL_V) -> str:
    """Corners of a source that goes from bit to bit in straight edges."""
    corners, before = ["0 0"], 0
    for at, bit in enumerate(bits):
        if bit != before:
            edge = START_S + at * pixel_s
            corners.append(f"{edge!r} {before * high!r} {edge + rise_s!r} {bit * high!r}")
        before = bit
    return " ".join(corners)


def deck(case: Case, sections: int = 200) -> str:
    """Elements of a case; the load is node b."""
    path = case.path
    lines = []
    for at, (leg, bits) in enumerate(zip(path.legs, case.bits, strict=True)):
        lines += [
            f"V{at} s{at} 0 PWL({straight(bits, case.pixel_s, case.rise_s)})",
            f"Ro{at} s{at} p{at} {leg.pin_ohm!r}",
            f"R{at} p{at} t{at if path.rung_ohm else 0} {leg.part_ohm!r}",
        ]
        if leg.pad_f:
            lines.append(f"Cp{at} p{at} 0 {leg.pad_f!r}")
    lines += [f"Rr{at} t{at} t{at + 1} {ohm!r}" for at, ohm in enumerate(path.rung_ohm)]
    if path.terminator_ohm is not None:
        lines.append(f"Re t{len(path.legs) - 1 if path.rung_ohm else 0} 0 {path.terminator_ohm!r}")
    if path.shunt_ohm is not None:
        lines.append(f"Rs t0 0 {path.shunt_ohm!r}")
    if path.connector_f:
        lines.append(f"Cc t0 0 {path.connector_f!r}")
    lines += line_elements(path.line, path.length_m, case.loss, "t0", "b", sections)
    lines.append(f"Rl b 0 {path.load_ohm!r}")
    if path.load_f:
        lines.append(f"Cl b 0 {path.load_f!r}")
    return "\n".join(lines)


def line_elements(
    line: UniformLine, length_m: float, loss: str, near: str, far: str, sections: int = 200, tag: str = "x"
) -> list[str]:
    """A line between two nodes: ideal, with constant resistance, or as sections with a ladder for the skin effect."""
    if loss == "none":
        return [f"T{tag} {near} 0 {far} 0 Z0={line.impedance_ohm!r} TD={line.delay_s_per_m * length_m!r}"]
    if loss == "constant":
        return [
            f"O{tag} {near} 0 {far} 0 m{tag}",
            f".model m{tag} LTRA R={line.resistance_ohm_per_m!r} L={line.inductance_h_per_m!r} "
            f"C={line.capacitance_f_per_m!r} LEN={length_m!r}",
        ]
    piece_m = length_m / sections
    half_f = line.capacitance_f_per_m * piece_m / 2.0
    first_ohm, stages = skin_stages(line)
    body = [f".subckt sec{tag} i o", f"R0 i m0 {first_ohm * piece_m!r}"]
    for at, (ohm, henry) in enumerate(stages):
        # a resistance with an inductance beside it: shorted at rest, whole at high frequency
        body += [f"R{at + 1} m{at} m{at + 1} {ohm * piece_m!r}", f"L{at + 1} m{at} m{at + 1} {henry * piece_m!r}"]
    body += [
        f"Lx m{len(stages)} o {line.inductance_h_per_m * piece_m!r}",
        f"Ca i 0 {half_f!r}",
        f"Cb o 0 {half_f!r}",
        f".ends sec{tag}",
    ]
    nodes = [near, *(f"{tag}n{at}" for at in range(1, sections)), far]
    return body + [f"X{tag}{at} {nodes[at]} {nodes[at + 1]} sec{tag}" for at in range(sections)]


def skin_stages(line: UniformLine) -> tuple[float, list[tuple[float, float]]]:
    """sqrt(R^2 + K^2 s) of a metre as a resistance and stages of R beside L, fitted from 10 kHz to 3 GHz.

    Time constants are spread evenly by ratio; weights come from non-negative least squares, so every stage is passive.
    """
    f = np.logspace(4, 9.5, 200)
    s = 2j * math.pi * f
    k2 = line.skin_ohm_per_m**2 / (math.pi * 10e6)
    wanted = np.sqrt(line.resistance_ohm_per_m**2 + k2 * s)
    tau = np.logspace(-5, -10.2, 16)
    basis = s[:, None] * tau / (1.0 + s[:, None] * tau)
    rest = wanted - line.resistance_ohm_per_m
    scale = 1.0 / np.abs(rest)
    stacked = np.concatenate(((basis * scale[:, None]).real, (basis * scale[:, None]).imag))
    ohm = positive_least_squares(stacked, np.concatenate(((rest * scale).real, (rest * scale).imag)))
    return line.resistance_ohm_per_m, [(float(r), float(r * t)) for r, t in zip(ohm, tau, strict=True) if r > 0.0]


def positive_least_squares(matrix: NDArray[np.float64], wanted: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least squares with no negative answer, by dropping the most negative until none is left."""
    kept = list(range(matrix.shape[1]))
    while True:
        answer = np.linalg.lstsq(matrix[:, kept], wanted, rcond=None)[0]
        if answer.min() >= 0.0:
            full = np.zeros(matrix.shape[1])
            full[kept] = answer
            return full
        kept.pop(int(answer.argmin()))


def leg(part_ohm: float, pin_ohm: float = 25.0, pad_f: float = 5e-12) -> Leg:
    """A leg whose pin has one resistance."""
    return Leg(pin_ohm, pin_ohm, part_ohm, pad_f)
