"""Random dossiers, half of them for each handbook chip, and random other values for their facts."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import strategies as st

PARENTS = (
    "640x480@60",
    "640x400@70",
    "720x400@70",
    "800x600@60",
    "800x600@56",
    "1024x768@60",
    "848x480@60",
    "dmt:0x05",
)
COMPUTED = ("1000x600@60", "960x540@60", "1024x600@75", "500x375@60")
"""Sizes that no list holds: a formula may make them, and without one they are no parent."""
FORMULAS = ("cvt", "cvt-rb1", "cvt-rb2", "gtf")
CLASSES = ("monitor, 15 inch", "monitor, green, 12 inch", "projector, small")
ORIGINS = ("", "; measured", "; sheet, page 2", "; said", "; guess")
PINS = {
    "wifi240": (32, 33, 25, 26, 27, 14, 13, 4, 16, 17, 5, 18, 19, 21, 22, 23, 15, 2, 12),
    "rp2040": tuple(range(23)),
}
STREAMS = {"wifi240": ("8 lanes", "16 lanes"), "rp2040": ("8 lanes", "16 lanes", "10 lanes")}
STATES = {"wifi240": ("radio-off", "network"), "rp2040": ("bare", "network")}
BLOCKS = ("113800, 110500, 63200, 14000 B", "235000 B", "40000, 40000, 40000 B", "300000, 9000 B")


@st.composite
def dossiers(draw: st.DrawFn) -> dict[str, Any]:
    """A dossier whose names all lead somewhere; its plan may hold, fail or be unknown."""
    chip = draw(st.sampled_from(("wifi240", "rp2040")))
    pins = list(PINS[chip])
    count = draw(st.integers(1, 4))
    displays = [draw(_displays(n)) for n in range(count)]
    h, v = pins.pop(), pins.pop()
    connectors: list[dict[str, Any]] = []
    depth: dict[str, dict[str, int]] = {}
    bits = draw(st.sampled_from((1, 1, 1, 2)))
    for n, display in enumerate(displays):
        colours = draw(st.sampled_from((("green",), ("red", "green", "blue"))))
        connector: dict[str, Any] = {"name": f"J{n + 1}", "plugs": display["name"]}
        shared = draw(st.integers(0, 9)) == 9 and len(colours) == 3
        if shared:
            connector |= dict.fromkeys(colours, pins.pop(0) if bits == 1 else [pins.pop(0) for _ in range(bits)])
        for colour in colours if not shared else ():
            own = [pins.pop(0) for _ in range(bits) if pins]
            connector[colour] = own[0] if len(own) == 1 else own
        connectors.append(connector)
        white = shared or (chip == "wifi240" and draw(st.booleans()) and len(colours) == 3)
        depth[display["name"]] = {"white": bits} if white else dict.fromkeys(colours, bits)
        display.pop("group", None)
        if len(pins) < 6:
            del displays[n + 1 :]
            break
    data: dict[str, Any] = {"dossier": {"format": 1, "title": "law"}, "chip": draw(_chips(chip)), "displays": displays}
    data["supply"] = draw(_optional({"inlet": "500 mA; standard", "chip_current": "30 .. 70 mA; measured",
                                     "regulator_rise": "110 K/W; sheet", "air": "35 degC; said",
                                     "decoupling": "100, 100, 10000 nF; sheet", "ground_path": "1 nH; measured"}))  # fmt: skip
    data["board"] = {
        "sync": {"h": h, "v": v},
        "connectors": connectors,
        **draw(_optional({"protection": "5 pF; sheet"})),
    }
    part = draw(st.sampled_from(("240 ohm ± 1 %; sheet", "270 ohm ± 1 %", "330 ohm; guess", "249 ohm ± 1 %")))
    colour = draw(_colours(bits, "390, 820 ohm ± 1 %; sheet" if bits == 2 else part))
    sync = draw(st.sampled_from((
        {"style": "series", "part": "100 ohm ± 5 %; sheet"}, {"style": "direct"},
        {"style": "buffered", "buffer": "LVC", "outputs": "one per display", "branch": "47 ohm ± 5 %"},
    )))  # fmt: skip
    data["levels"] = {"colour": colour, "sync": sync}
    divide = draw(st.sampled_from((1, 2, 2)))
    raster: dict[str, Any] = {
        "parent": draw(st.sampled_from(PARENTS)),
        "divide": divide,
        "repeat": draw(st.sampled_from((1, 2))),
    }
    if draw(st.integers(0, 4)) == 4:
        raster |= {"parent": draw(st.sampled_from(COMPUTED)), "formula": draw(st.sampled_from(FORMULAS))}
    if draw(st.booleans()):
        raster["picture"] = draw(st.sampled_from(("320x200", "160x120", "640x400")))
    rig = {"name": "only", "firmware": draw(st.sampled_from(STATES[chip])), "stream": draw(st.sampled_from(STREAMS[chip])),
           "raster": raster, "depth": depth}  # fmt: skip
    if draw(st.booleans()):
        rig["redraw"] = draw(st.sampled_from(("1 ms; measured", "5 ms; guess", "1 .. 9 ms; measured")))
    if draw(st.booleans()):
        rig["frames"] = draw(st.integers(1, 2))
    data["rigs"] = [rig]
    return data


@st.composite
def _colours(draw: st.DrawFn, bits: int, part: str) -> dict[str, Any]:
    """A colour stage of any style; half of them of the plain one."""
    plain = {"style": "weighted" if bits == 2 else "series", "part": part}
    style = draw(st.sampled_from(("matched", "buffered", "amplified"))) if draw(st.booleans()) else ""
    if not style:
        return plain
    colour: dict[str, Any] = {"style": style, "part": part, "shunt": "130 ohm ± 1 %; sheet"}
    if style == "buffered":
        del colour["shunt"]
        colour |= {"buffer": draw(st.sampled_from(("LVC", "AHC"))), **draw(_optional({"packages": 2}))}
    if style == "amplified":
        amplifier = {"gain": 2, "back": "75 ohm ± 1 %; sheet", "bandwidth": "100 MHz; sheet", "slew": "300 V/us; sheet",
                     "current": "8 mA; measured"}  # fmt: skip
        colour |= {"part": "2700, 5600 ohm" if bits == 2 else "2.7 kohm ± 1 %", "shunt": "750 ohm ± 1 %"}
        colour |= draw(_optional({"amplifier": draw(_optional(amplifier))}))
    return colour


@st.composite
def _displays(draw: st.DrawFn, number: int) -> dict[str, Any]:
    display: dict[str, Any] = {"name": f"screen-{number + 1}"}
    if number and draw(st.booleans()):
        display["same_as"] = "screen-1"
        return display
    optional = {
        "like": draw(st.sampled_from(CLASSES)),
        "line_rate": draw(st.sampled_from(("30 .. 60 kHz; sheet", "31.4 .. 31.6 kHz", "35 .. 40 kHz; measured"))),
        "frame_rate": "56 .. 75 Hz; sheet",
        "colour_load": "75 ohm ± 2 %" + draw(st.sampled_from(ORIGINS)),
        "sync_load": draw(st.sampled_from(("2.2 kohm; measured", "1 kohm; guess", "2 .. 4 kohm"))),
        "sync_pull": draw(st.sampled_from(("none; measured", "10 kohm to 5 V; measured"))),
        "proved": [draw(st.sampled_from(PARENTS[:4])) + "; measured"],
        "panel": "1024x768; sheet",
    }
    display.update(draw(_optional(optional)))
    return display


@st.composite
def _chips(draw: st.DrawFn, name: str) -> dict[str, Any]:
    free = {draw(st.sampled_from(STATES[name])): draw(st.sampled_from(BLOCKS)) + "; measured"}
    optional = {
        "drive": "20 mA; because" if name == "wifi240" else "12 mA; because",
        "pin_high": "20 .. 40 ohm; measured",
        "pin_low": "15 .. 30 ohm; measured",
        "rail": "3.25 .. 3.35 V; measured",
        "keep_back": "24000 B; because",
        "free": free,
        "system": "100 .. 133 MHz; because",
    }
    return {"like": name, **draw(_optional(optional))}


def _optional(table: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Some of the keys of a table, most of them more often than few."""
    return st.sets(st.sampled_from(sorted(table)), max_size=2).map(
        lambda left_out: {key: value for key, value in table.items() if key not in left_out}
    )


def other_values(value: Any) -> st.SearchStrategy[Any]:
    """Other values of the same kind: numbers scaled, names swapped."""
    if isinstance(value, bool):
        return st.just(value)
    if isinstance(value, int):
        return st.sampled_from((value + 1, max(1, value - 1), value + 2))
    if isinstance(value, list) and value and isinstance(value[0], int):
        return st.permutations(value)
    if isinstance(value, list):
        return st.sampled_from(PARENTS).map(lambda name: [f"{name}; measured"])
    if not isinstance(value, str):
        return st.just(value)
    for family in (PARENTS, COMPUTED, FORMULAS, CLASSES, ("series", "direct"), ("8 lanes", "16 lanes"), ("wifi240", "rp2040"),
                   ("radio-off", "network", "bare"), ("LVC", "AHC"), ("one", "one per display")):  # fmt: skip
        if value in family:
            return st.sampled_from(family)
    body, mark, note = value.partition(";")
    scaled = st.sampled_from(("0.5", "0.97", "1.03", "2")).map(lambda f: _scale(body, float(f)) + mark + note)
    reoriginated = st.sampled_from(ORIGINS).map(lambda origin: body + origin)
    return scaled | reoriginated


def _scale(body: str, factor: float) -> str:
    """Text with each number that stands before the tolerance scaled; sizes stay whole."""
    head, mark, tail = body.partition("±")
    if re.fullmatch(r"\d+x\d+", body.strip()):
        width, height = body.strip().split("x")
        return f"{max(1, int(int(width) * factor))}x{max(1, int(int(height) * factor))}"
    whole = " B" in body

    def grow(match: re.Match[str]) -> str:
        number = float(match[0]) * factor
        return str(int(number)) if whole else f"{number:.6g}"

    return re.sub(r"(?<![\w.])\d+(?:\.\d+)?", grow, head) + mark + tail
