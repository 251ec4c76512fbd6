"""What the stand-in display takes into account, each a switch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace

from scanloom.basis.record import record


@record
class Effects:
    """Switches of the forward model; with all of them off a display shows just the frame that was packed.

    Parameters
    ----------
    edges : bool
        Rise of the pins, capacitance of pad, connector and input.
    cable : bool
        Delay, skin loss and echoes of the line.
    cable_resistance : bool
        Direct-current resistance of the cable.
    shared_return : bool
        Resistance that the returns of one display's colours have in common.
    supply_dip : bool
        Sag of the pins' supply while many channels are lit.
    lane_skew : bool
        Colours that leave the pins at different times.
    wobble : bool
        Pixel edges that a fractional divider puts beside their places.
    jitter : bool
        Chance in the display's sampling instants.
    coupling : bool
        Coupling capacitor with the clamp on the back porch.
    diode : bool
        Protection diodes behind the coupling capacitor; they need the coupling.
    recovery : bool
        An input stage that takes time to recover from overload; an illustration.
    converter : bool
        Converter of 256 steps with its full scale.
    noise : bool
        Noise of the converter.
    double_termination : bool
        A fault: a second load on the same cable.
    missing_termination : bool
        A fault: no load at the far end.
    """

    edges: bool = True
    cable: bool = True
    cable_resistance: bool = True
    shared_return: bool = True
    supply_dip: bool = True
    lane_skew: bool = True
    wobble: bool = True
    jitter: bool = True
    coupling: bool = True
    diode: bool = True
    recovery: bool = True
    converter: bool = True
    noise: bool = True
    double_termination: bool = False
    missing_termination: bool = False

    @property
    def on(self) -> tuple[str, ...]:
        """Names of the effects that are on, in the order of the signal."""
        return tuple(name for name in effect_names() if getattr(self, name.replace("-", "_")))


FAULTS = ("double-termination", "missing-termination")
"""Effects that are faults of somebody's cabling and off unless asked for."""

ILLUSTRATED = {
    "lane-skew": "lane-skew",
    "supply-dip": "supply-resistance",
    "coupling": "clamp-ohm",
    "diode": "diode-rail",
    "recovery": "recovery-red",
    "jitter": "sampling-jitter",
    "noise": "converter-noise",
}
"""Effects that rest on assumed constants, each with the row of the handbook's table `front_end` that is its knob."""


def effect_names() -> tuple[str, ...]:
    """Names of all effects, as a command takes them.

    Returns
    -------
    tuple of str
        In the order of the signal, faults last.
    """
    return tuple(field.name.replace("_", "-") for field in fields(Effects))


def chosen_effects(only: Iterable[str] | None = None, without: Iterable[str] = (), add: Iterable[str] = ()) -> Effects:
    """Effects by name.

    Parameters
    ----------
    only : iterable of str or None
        The effects that are on; None for the usual ones.
    without : iterable of str
        Effects to turn off.
    add : iterable of str
        Effects to turn on.

    Returns
    -------
    Effects
        The switches.

    Raises
    ------
    ValueError
        If a name is no effect, or the load is both missing and double.
    """
    names = effect_names()
    listed, off, more = tuple(only or ()), tuple(without), tuple(add)
    for name in (*listed, *off, *more):
        if name not in names:
            raise ValueError(f"{name!r} is no effect; {', '.join(names)} are; choose among them")
    made = Effects() if only is None else _switched(Effects(), names, False)
    made = _switched(_switched(_switched(made, listed, True), more, True), off, False)
    if made.double_termination and made.missing_termination:
        raise ValueError(
            "double-termination and missing-termination at once; one load is too many or too few; choose one"
        )
    return made


def no_effects() -> Effects:
    """The ideal display.

    Returns
    -------
    Effects
        All of them off.
    """
    return _switched(Effects(), effect_names(), False)


def _switched(effects: Effects, names: Iterable[str], on: bool) -> Effects:
    """Some switches moved."""
    return replace(effects, **{name.replace("-", "_"): on for name in names})
