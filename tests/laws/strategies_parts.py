"""Small requests for parts, with every demand a request can make."""

from __future__ import annotations

from hypothesis import strategies as st

from scanloom.basis.span import Span
from scanloom.handbook.series import values
from scanloom.stages.levels.search.request import PartsRequest


@st.composite
def spans(draw: st.DrawFn, low: float, high: float) -> Span:
    """An exact value, or one with up to a tenth to either side."""
    middle = draw(st.floats(low, high))
    if draw(st.booleans()):
        return Span.exact(middle)
    return Span(middle * draw(st.floats(0.9, 1.0)), middle, middle * draw(st.floats(1.0, 1.1)))


@st.composite
def small_requests(draw: st.DrawFn, objective: str = "nominal") -> PartsRequest:
    """A request that brute force can try in full: up to 3 bits, stock lists of a few values near what white asks for."""
    bits = draw(st.integers(1, 3))
    pairs = draw(st.booleans())
    shunt = objective != "yield" and draw(st.booleans())
    most = {1: 12, 2: 9, 3: 5 if pairs else 8}[bits]
    near = [ohm for leg in range(bits) for ohm in values("E24", 140.0 * 2**leg, 420.0 * 2 ** (leg + 1))]
    listed = draw(st.lists(st.sampled_from(near), min_size=2, max_size=most, unique=True))
    if shunt:  # one that may match, and legs that leave it room
        listed += draw(st.lists(st.sampled_from(values("E24", 91.0, 390.0)), min_size=1, max_size=3, unique=True))
    high = draw(st.one_of(spans(5.0, 60.0), spans(80.0, 160.0)))
    white_low, white_high = draw(st.sampled_from([(0.665, 0.770), (0.5, 0.95), (0.6, 0.8)]))
    sure = draw(st.booleans())
    return PartsRequest(
        bits,
        stock_ohm=tuple(listed),
        least_part_ohm=draw(st.sampled_from([47.0, 100.0])),
        pairs=pairs,
        pin_high_ohm=high,
        pin_low_ohm=draw(
            st.sampled_from(
                [None, *(Span(high.low * k, high.typical * k, high.high * k) for k in (0.05, 0.6, 1.5, 4.0))]
            )
        ),
        rail_v=draw(spans(2.7, 3.6)),
        load_ohm=draw(spans(70.0, 80.0)),
        white_low_v=white_low,
        white_high_v=white_high,
        tolerance_percent=draw(st.sampled_from([0.0, 1.0, 5.0])),
        guaranteed=sure,
        match_percent=draw(st.sampled_from([5.0, 30.0, 100.0])) if shunt else None,
        shunt_low_ohm=47.0,
        distinct_most=draw(st.sampled_from([None, None, 1, 2, 3])),
        parts_most=draw(st.sampled_from([None, None, bits + 1, bits + 2])),
        pin_most_a=draw(st.sampled_from([None, None, 0.012, 0.008])),
        objective=objective,  # type: ignore[arg-type]
        answers=draw(st.integers(1, 5)),
        boards=60,
    )
