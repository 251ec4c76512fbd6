"""What holds for every drawing, whatever it shows."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from scanloom.report.drawings import Drawing, svg
from scanloom.report.drawings.drawing import NARROW_PX, WIDE_PX


def check_drawing(one: Drawing) -> None:
    """Well-formed, named, without colours of its own, and everything inside its width and height."""
    for markup, width in ((one.wide, WIDE_PX), (one.narrow, NARROW_PX)):
        root = ET.fromstring(markup)  # well-formed, and so of balanced tags
        height = float(root.attrib["height"])
        assert root.attrib["width"] == f"{width}"
        assert root.attrib["role"] == "img" and one.result in root.attrib["aria-label"]
        assert "style" not in markup and "#" not in re.sub(r"&#\d+;", "", markup), "colours belong to the look"
        for text in root.iter("text"):
            words, x = text.text or "", float(text.attrib["x"])
            size, kind = svg.width_px(words), text.attrib.get("class", "").split()
            left = x - size if "e" in kind else x - size / 2 if "m" in kind else x
            # the estimate is for the widest font; a tenth may be lost on short words
            assert left >= -0.12 * size - 8, f"{words!r} starts outside"
            assert left + size <= width + 0.12 * size + 8, f"{words!r} ends outside"
            assert 0 < float(text.attrib["y"]) <= height
        for box in root.iter("rect"):
            assert float(box.attrib["x"]) >= -1.01
            assert float(box.attrib["x"]) + float(box.attrib["width"]) <= width + 1.01
            assert float(box.attrib["y"]) + float(box.attrib["height"]) <= height + 1.01
