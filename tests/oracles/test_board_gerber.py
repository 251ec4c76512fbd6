"""Own readers of images and drills against a reader from the registry, where that is right; elsewhere against the standard's own words."""

from __future__ import annotations

import math
import warnings

import pytest
import shapely
from board_sets import good

from scanloom.formats.board_files.drill import read_drill
from scanloom.formats.board_files.drill_format import formats_to_try, holes_of
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.board_files.gerber_aperture import macro_aperture, standard_aperture

HEAD = "%FSLAX46Y46*%%MOMM*%"


@pytest.mark.parametrize("name", [n for n in good()[1] if n.endswith(".gbr")])
def test_images_of_the_demo_board(name: str) -> None:
    """Same objects at the same places with the same boxes; a polygon lies up to 5 um inside its curve."""
    from gerbonara import GerberFile
    from gerbonara.utils import MM

    text = good()[1][name].decode()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = GerberFile.from_string(text, filename=name)
    mine = read_gerber(text)
    assert len(other.objects) == len(mine.drawn)
    for theirs, shape in zip(other.objects, mine.shapes, strict=True):
        (low_x, low_y), (high_x, high_y) = theirs.bounding_box(MM)
        if shape.is_empty or high_x - low_x < 1e-6:
            continue
        assert shape.bounds == pytest.approx((low_x, low_y, high_x, high_y), abs=0.006)


def test_holes_of_the_demo_board() -> None:
    from gerbonara import ExcellonFile
    from gerbonara.utils import MM

    text = good()[1]["deep-station-plated.drl"].decode()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = ExcellonFile.from_string(text)
    theirs = sorted((MM(o.x, o.unit), MM(o.y, o.unit)) for o in other.objects if hasattr(o, "x"))
    read = read_drill(text)
    mine = sorted(
        (h.x_mm, h.y_mm)
        for h in holes_of(read, formats_to_try(read)[0], True)
        if h.x_mm == h.x2_mm and h.y_mm == h.y2_mm
    )
    assert len(theirs) == len(mine) > 300
    assert [x for pair in mine for x in pair] == pytest.approx([x for pair in theirs for x in pair], abs=1e-6)


@pytest.mark.parametrize(
    ("letter", "numbers", "area"),
    [
        ("C", [2.0], math.pi),
        ("C", [2.0, 1.0], math.pi * 0.75),
        ("R", [2.0, 3.0], 6.0),
        ("R", [2.0, 3.0, 1.0], 6.0 - math.pi / 4),
        ("O", [4.0, 2.0], 4.0 + math.pi),
        ("P", [2.0, 6], 1.5 * math.sqrt(3)),
        ("P", [2.0, 4, 45.0], 2.0),
    ],
)
def test_standard_apertures_by_school_geometry(letter: str, numbers: list[float], area: float) -> None:
    """Gerber Layer Format Specification, 4.4; areas by school geometry, 1 % for curves made of chords."""
    assert standard_aperture(letter, numbers, 1.0, "").shape.area == pytest.approx(area, rel=0.01)


def test_polygon_turns_in_degrees() -> None:
    """Specification 4.4.5: rotation in degrees counter-clockwise, the first vertex on the X axis."""
    square = standard_aperture("P", [2.0, 4, 45.0], 1.0, "").shape
    assert square.bounds == pytest.approx((-math.sqrt(0.5), -math.sqrt(0.5), math.sqrt(0.5), math.sqrt(0.5)))


@pytest.mark.parametrize(
    ("body", "numbers", "area"),
    [
        ("1,1,1.5,0,0*", [], math.pi * 2.25 / 4),  # 4.5.1.3
        ("20,1,0.9,0,0.45,12,0.45,0*", [], 10.8),  # 4.5.1.4, the example of the clause: 12 x 0.9
        ("21,1,6.8,1.2,3.4,0.6,30*", [], 8.16),  # 4.5.1.5
        ("4,1,4,0.1,0.1,0.5,0.1,0.5,0.5,0.1,0.5,0.1,0.1,0*", [], 0.16),  # 4.5.1.6, the example: a square of 0.4
        ("5,1,8,0,0,8,0*", [], 2 * math.sqrt(2) * 16),  # 4.5.1.7: an octagon on a circle of 8
        ("1,1,$1,0,0*1,0,$2,0,0*", [2.0, 1.0], math.pi * 0.75),  # a ring by exposure off
        ("$3=$1x2-($2+1)/2*21,1,$3,1,0,0,0*", [2.0, 1.0], 3.0),  # sums: 2x2 - (1+1)/2
    ],
)
def test_macros_by_the_specification(body: str, numbers: list[float], area: float) -> None:
    assert macro_aperture(body, numbers, 1.0, "").shape.area == pytest.approx(area, rel=0.01)


def test_thermal_by_area() -> None:
    """4.5.1.8: a ring cut by a cross whose bars are as wide as the gap; the crossing counts once."""
    shape = macro_aperture("7,0,0,4,2,0.4,0*", [], 1.0, "").shape
    assert len(shape.geoms) == 4
    ring = math.pi * 3
    bars = 4 * 0.4 * 1.0
    assert shape.area == pytest.approx(ring - bars, rel=0.02)


def test_mirror_then_turn_then_grow() -> None:
    """Specification 4.9: LM first, then LR, then LS, about the origin of the aperture."""
    shape = "%AML*21,1,2,1,1,0.5,0*%%ADD10L*%D10*"  # a bar to the right of its origin, above the axis
    text = HEAD + shape + "%LMX*%%LR90*%%LS2*%X10000000Y0D03*M02*"
    (made,) = read_gerber(text).shapes
    # mirrored: x -2..0, y 0..1; turned 90: x -1..0, y -2..0; grown: x -2..0, y -4..0
    assert made.bounds == pytest.approx((8.0, -4.0, 10.0, 0.0))


def test_blocks_and_repeats() -> None:
    """Specification 4.11 and 4.12: blocks flashed as apertures, steps in X and Y."""
    block = "%ADD10C,1*%%ABD20*%D10*X0Y0D03*X2000000Y0D03*%AB*%D20*X0Y0D03*%LR90*%X10000000Y0D03*"
    made = read_gerber(HEAD + block + "M02*")
    assert [(round(o.x_mm, 6), round(o.y_mm, 6)) for o in made.drawn] == [(0, 0), (2, 0), (10, 0), (10, 2)]
    text = HEAD + "%ADD10C,1*%%SRX3Y2I5J4*%D10*X0Y0D03*%SR*%M02*"
    assert sorted((o.x_mm, o.y_mm) for o in read_gerber(text).drawn) == [(x, y) for x in (0, 5, 10) for y in (0, 4)]


def test_arcs_in_one_and_many_quadrants() -> None:
    """Specification 4.7: the same quarter circle with signs (G75) and without (G74)."""
    for mode, word in (("G75", "I-1000000J0"), ("G74", "I1000000J0")):
        text = HEAD + f"%ADD10C,0.1*%D10*{mode}*X1000000Y0D02*G03X0Y1000000{word}D01*M02*"
        (path,) = read_gerber(text).paths
        assert shapely.LineString(path).length == pytest.approx(math.pi / 2, rel=2e-3)  # chords up to 4 um inside


def test_nets_of_areas_and_pads_are_kept() -> None:
    """Specification 5.6.13: object attributes hold for areas, too."""
    text = (
        HEAD
        + "%ADD10C,1*%D10*%TO.N,GND*%G36*X0Y0D02*G01X1000000Y0D01*X0Y1000000D01*X0Y0D01*G37*%TO.P,U1,8,GPIO32*%X0Y0D03*%TD*%X5000000Y0D03*M02*"
    )
    first, second, third = read_gerber(text).drawn
    assert (first.kind, first.net) == ("area", "GND")
    assert (second.pin, second.pin_function) == (("U1", "8"), "GPIO32")
    assert (third.net, third.pin) == ("", None)


def test_attributes_in_comments_count() -> None:
    text = "G04 #@! TF.FileFunction,Copper,L2,Bot*" + HEAD + "%ADD10C,1*%D10*G04 #@! TO.N,5V*X0Y0D03*M02*"
    made = read_gerber(text)
    assert made.attributes[".FileFunction"] == "Copper,L2,Bot" and made.drawn[0].net == "5V"
