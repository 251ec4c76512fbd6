"""Laws of the stage waking: closed sums against the nodal solver, exact bounds against every corner and every mix.

The solver shares no code with the sums under test; it is itself compared with ngspice and with exact fractions in
tests/oracles.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.basis.span import Span
from scanloom.circuit.nodal import GROUND, Network, Resistor, VoltageSource, solve, solve_many
from scanloom.circuit.star import star_bound, star_voltage
from scanloom.stages.waking.chain import LadderNet, ladder_level, ladder_worst
from scanloom.stages.waking.node import PinNet, Strand, black_level, fed_current, pin_level, pull_needed, worst_level

CLOSE = 1e-9
FEW = settings(max_examples=60, deadline=None)
RAIL = Span(3.135, 3.3, 3.465)


def spans(low: float, high: float) -> st.SearchStrategy[Span]:
    """Exact or wide, typical in the middle."""
    return st.builds(
        lambda middle, share: Span(middle * (1 - share), middle, middle * (1 + share)),
        st.floats(low, high), st.sampled_from([0.0, 0.05, 0.4]),
    )  # fmt: skip


PULLS = spans(20e3, 90e3)


@st.composite
def own_arms(draw: st.DrawFn) -> Strand:
    """A pin with a pull to either side or none, and its part."""
    part = draw(spans(10.0, 2000.0) | st.just(Span.exact(0.0)))
    pull = draw(st.sampled_from(("up", "down", "none")))
    if pull == "up":
        return Strand(part, pull_ohm=draw(PULLS), pull_v=RAIL)
    return Strand(part, load_ohm=draw(PULLS) if pull == "down" else None)


@st.composite
def display_arms(draw: st.DrawFn, *, pulling: bool = True) -> Strand:
    """A display's input behind its branch."""
    arm = Strand(draw(spans(10.0, 100.0) | st.just(Span.exact(0.0))), load_ohm=draw(spans(70.0, 10e3)))
    if pulling and draw(st.booleans()):
        return replace(arm, pull_ohm=draw(spans(500.0, 10e3)), pull_v=Span(4.75, 5.0, 5.25))
    return arm


@st.composite
def pin_nets(draw: st.DrawFn, *, pulling: bool = True) -> PinNet:
    """A pin, perhaps another pin of the channel, one or two displays."""
    fixed = tuple(draw(st.lists(own_arms(), max_size=1)))
    return PinNet(draw(own_arms()), fixed, tuple(draw(st.lists(display_arms(pulling=pulling), min_size=1, max_size=2))))


def corners(arm: Strand) -> Iterator[Strand]:
    """Copies of an arm with every element at an end."""
    names = [f.name for f in fields(arm) if getattr(arm, f.name) is not None]
    ends = [{getattr(arm, name).low, getattr(arm, name).high} for name in names]
    for picked in product(*ends):
        yield replace(arm, **{name: Span.exact(value) for name, value in zip(names, picked, strict=True)})


def typical(arm: Strand) -> Strand:
    """The arm with every element at its typical value."""
    held = {f.name: getattr(arm, f.name) for f in fields(arm)}
    return replace(arm, **{name: Span.exact(span.typical) for name, span in held.items() if span is not None})


def parts(arm: Strand, far: str, near: str) -> tuple[list[Resistor], list[VoltageSource]]:
    """An exact arm as elements between its far end and the node it hangs on; without a part the two are one."""
    far = near if arm.part_ohm.typical == 0.0 else far
    made = [] if far == near else [Resistor(far, near, arm.part_ohm.typical)]
    sources: list[VoltageSource] = []
    if arm.load_ohm is not None:
        made.append(Resistor(far, GROUND, arm.load_ohm.typical))
    if arm.pull_ohm is not None and arm.pull_v is not None:
        made.append(Resistor(far, f"{far}-{near}-{len(made)}", arm.pull_ohm.typical))
        sources.append(VoltageSource(f"{far}-{near}-{len(made) - 1}", GROUND, arm.pull_v.typical))
    return made, sources


def hangs(arm: Strand) -> bool:
    return arm.load_ohm is not None or arm.pull_ohm is not None


def network(own: Strand, others: Sequence[Strand]) -> tuple[Network, str]:
    """A pin and what hangs on it, and the name of the pin's node."""
    resistors: list[Resistor] = []
    sources: list[VoltageSource] = []
    for number, arm in enumerate((own, *(arm for arm in others if hangs(arm)))):
        made = parts(arm, "pin" if not number else f"arm{number}", "node")
        names = {v.plus: f"supply{number}" for v in made[1]}
        resistors += [Resistor(r.plus, names.get(r.minus, r.minus), r.ohm) for r in made[0]]
        sources += [VoltageSource(names[v.plus], GROUND, v.volt) for v in made[1]]
    return Network(tuple(resistors), tuple(sources)), "node" if own.part_ohm.typical == 0.0 else "pin"


def solved(own: Strand, others: Sequence[Strand]) -> float | None:
    """Voltage of the pin by the nodal solver; None when nothing holds it."""
    if not any(hangs(arm) for arm in (own, *others)):
        return None
    made, pin = network(own, others)
    return solve(made).node_v[pin]


@FEW
@given(pin_nets())
def test_typical_levels_are_those_of_the_nodal_solver(net: PinNet) -> None:
    own, fixed, displays = typical(net.own), [typical(a) for a in net.fixed], [typical(a) for a in net.displays]
    for plugged, others in ((True, [*fixed, *displays]), (False, fixed)):
        level, wanted = pin_level(net, plugged=plugged), solved(own, others)
        assert (level is None) == (wanted is None)
        if level is not None and wanted is not None:
            assert level.typical == pytest.approx(wanted, abs=1e-6)


def every_corner(net: PinNet, displays: Sequence[Strand]) -> list[float]:
    """The pin's voltage at every corner, the rail of all pins at one end together; one batch of the solver."""
    arms = [arm for arm in (*net.fixed, *displays) if hangs(arm)]
    if not any(hangs(arm) for arm in (net.own, *arms)):
        return []
    pins = 1 + sum(hangs(arm) for arm in net.fixed)
    made, pin = network(typical(net.own), [typical(arm) for arm in arms])
    ohms: list[list[float]] = []
    volts: list[list[float]] = []
    for picked in product(*(list(corners(arm)) for arm in (net.own, *arms))):
        if len({a.pull_v.typical for a in picked[:pins] if a.pull_v is not None}) > 1:
            continue
        copy, _ = network(picked[0], picked[1:])
        ohms.append([float(r.ohm) for r in copy.resistors])
        volts.append([float(v.volt) for v in copy.voltages])
    many = solve_many(made, ohms, volts if made.voltages else None)
    return [float(value) for value in many.node_v[:, many.nodes.index(pin)]]


@settings(max_examples=12, deadline=None)
@given(pin_nets())
def test_bounds_are_those_of_all_corners_and_mixes(net: PinNet) -> None:
    all_v = []
    for mix in product((False, True), repeat=len(net.displays)):
        there = [arm for arm, is_there in zip(net.displays, mix, strict=True) if is_there]
        found = every_corner(net, there)
        all_v += found
        if all(mix):
            level = pin_level(net, plugged=True)
            assert level is not None
            assert (level.low, level.high) == pytest.approx((min(found), max(found)), abs=1e-5)
    high, low = worst_level(net, highest=True), worst_level(net, highest=False)
    assert high is not None and low is not None
    assert high.high == pytest.approx(max(all_v), abs=1e-5)
    assert low.low == pytest.approx(min(all_v), abs=1e-5)


@given(pin_nets(pulling=False))
def test_a_display_that_only_loads_never_raises_a_pin(net: PinNet) -> None:
    alone, loaded, worst = pin_level(net, plugged=False), pin_level(net, plugged=True), worst_level(net, highest=False)
    assert loaded is not None and worst is not None
    if alone is None:
        return
    for one in (loaded, worst):
        assert one.low <= alone.low + CLOSE
        assert one.typical <= alone.typical + CLOSE
        assert one.high <= alone.high + CLOSE
    top = worst_level(net, highest=True)
    assert top is not None
    assert top.high == pytest.approx(alone.high, abs=CLOSE)


@given(pin_nets(), st.floats(0.3, 0.9), st.booleans())
def test_the_pull_that_is_needed_just_reaches_the_limit(net: PinNet, share: float, down: bool) -> None:
    limit_v = share * RAIL.low
    need_ohm = pull_needed(net, limit_v, RAIL.low, down=down)
    before = worst_level(net, highest=down)
    assert before is not None
    if need_ohm is None:
        assert before.high <= limit_v + CLOSE if down else before.low >= limit_v - CLOSE
        return
    after = worst_level(_beside(net, need_ohm, down), highest=down)
    assert after is not None
    assert (after.high if down else after.low) == pytest.approx(limit_v, abs=1e-6)


def _beside(net: PinNet, ohm: float, down: bool) -> PinNet:
    """The net with a resistor from the pin to ground, or to the rail at its lowest."""

    def joined(span: Span | None) -> Span:
        return Span.exact(ohm) if span is None else span.map(lambda x: x * ohm / (x + ohm))

    own = net.own
    if down:
        return replace(net, own=replace(own, load_ohm=joined(own.load_ohm)))
    return replace(net, own=replace(own, pull_ohm=joined(own.pull_ohm), pull_v=Span.exact(RAIL.low)))


@st.composite
def ladders(draw: st.DrawFn) -> LadderNet:
    bits = draw(st.integers(1, 4))
    legs = tuple(draw(own_arms()) for _ in range(bits))
    legs = tuple(replace(leg, part_ohm=draw(spans(100.0, 2000.0))) for leg in legs)
    rungs = tuple(draw(spans(100.0, 1000.0)) for _ in range(bits - 1))
    return LadderNet(legs, draw(st.integers(0, bits - 1)), rungs, draw(spans(100.0, 2000.0)), draw(spans(70.0, 80.0)))


def ladder_solved(net: LadderNet, *, plugged: bool) -> float:
    """The pin by the nodal solver, every element at its typical value."""
    resistors = [Resistor(f"tap{len(net.legs) - 1}", GROUND, net.terminator_ohm.typical)]
    sources: list[VoltageSource] = []
    if plugged:
        resistors.append(Resistor("tap0", GROUND, net.load_ohm.typical))
    for number, arm in enumerate(net.legs):
        made = parts(typical(arm), f"pin{number}", f"tap{number}")
        resistors += made[0]
        sources += made[1]
    resistors += [Resistor(f"tap{n}", f"tap{n + 1}", rung.typical) for n, rung in enumerate(net.rung_ohm)]
    return solve(Network(tuple(resistors), tuple(sources))).node_v[f"pin{net.leg}"]


@FEW
@given(ladders(), st.booleans())
def test_a_ladder_is_that_of_the_nodal_solver(net: LadderNet, plugged: bool) -> None:
    assert ladder_level(net, plugged=plugged).typical == pytest.approx(ladder_solved(net, plugged=plugged), abs=CLOSE)


@settings(max_examples=25, deadline=None)
@given(ladders(), st.data())
def test_no_copy_of_a_ladder_leaves_its_bounds_and_the_ends_are_reached(net: LadderNet, data: st.DataObject) -> None:
    """Random ends of every element stay inside; a ladder of two is tried at every one of them."""
    rail = data.draw(st.sampled_from((RAIL.low, RAIL.high)))

    def at(span: Span) -> Span:
        return Span.exact(data.draw(st.sampled_from((span.low, span.high))))

    legs = tuple(
        replace(
            leg, part_ohm=at(leg.part_ohm), load_ohm=None if leg.load_ohm is None else at(leg.load_ohm),
            pull_ohm=None if leg.pull_ohm is None else at(leg.pull_ohm), pull_v=None if leg.pull_v is None else Span.exact(rail),
        )
        for leg in net.legs
    )  # fmt: skip
    copy = LadderNet(legs, net.leg, tuple(map(at, net.rung_ohm)), at(net.terminator_ohm), at(net.load_ohm))
    for plugged in (False, True):
        bounds, found = ladder_level(net, plugged=plugged), ladder_solved(copy, plugged=plugged)
        assert bounds.low - CLOSE <= found <= bounds.high + CLOSE
        for highest in (False, True):
            worst = ladder_worst(net, highest=highest)
            assert found <= worst.high + CLOSE if highest else found >= worst.low - CLOSE


def test_the_ends_of_a_ladder_are_reached() -> None:
    wide = {"part_ohm": Span(300.0, 360.0, 400.0)}
    legs = (
        Strand(**wide, pull_ohm=Span(30e3, 45e3, 80e3), pull_v=RAIL),
        Strand(**wide, load_ohm=Span(30e3, 45e3, 80e3)),
        Strand(**wide, pull_ohm=Span(30e3, 45e3, 80e3), pull_v=RAIL),
    )
    rung, end, load = Span(150.0, 180.0, 220.0), Span(300.0, 360.0, 400.0), Span(70.0, 75.0, 80.0)
    for leg in range(3):
        net = LadderNet(legs, leg, (rung, rung), end, load)
        found = []
        for rail in (RAIL.low, RAIL.high):
            for a, b, c in product(*(list(corners(replace(x, pull_v=x.pull_v and Span.exact(rail)))) for x in legs)):
                for r, s, t, u in product(*((x.low, x.high) for x in (rung, rung, end, load))):
                    copy = LadderNet((a, b, c), leg, (Span.exact(r), Span.exact(s)), Span.exact(t), Span.exact(u))
                    found.append(ladder_level(copy, plugged=True).typical)
        bounds = ladder_level(net, plugged=True)
        assert (bounds.low, bounds.high) == pytest.approx((min(found), max(found)), abs=CLOSE)


@FEW
@given(
    st.lists(display_arms().filter(lambda arm: arm.pull_ohm is not None), min_size=1, max_size=3),
    spans(10.0, 1000.0) | st.just(Span.exact(0.0)),
    st.just(Span(0.3, 0.6, 0.7)),
)
def test_current_into_a_dead_rail_is_that_of_the_nodal_solver(arms: list[Strand], part: Span, drop: Span) -> None:
    """The clamp as a voltage source behind the part; the mix of displays that pushes most is found by trying all."""

    def pushed(there: Sequence[Strand], part_ohm: float, drop_v: float) -> float:
        if part_ohm > 0.0:
            clamp = Strand(pull_ohm=Span.exact(part_ohm), pull_v=Span.exact(drop_v))
            return -solve(network(clamp, there)[0]).source_a[0]
        made, _ = network(Strand(load_ohm=Span.exact(1e12)), there)  # next to nothing, so that there is a pin
        held = VoltageSource("node", GROUND, drop_v)
        return -solve(replace(made, voltages=(held, *made.voltages))).source_a[0]

    def most(choose: Sequence[Sequence[Strand]], part_ohm: float, drop_v: float) -> float:
        mixes = [[a for a, there in zip(arms_at, mix, strict=True) if there]
                 for arms_at in product(*choose) for mix in product((False, True), repeat=len(arms))]  # fmt: skip
        return max([0.0, *(pushed(mix, part_ohm, drop_v) for mix in mixes if mix)])

    fed, lift = fed_current(arms, part, drop)
    assert fed.typical == pytest.approx(most([[typical(a)] for a in arms], part.typical, drop.typical), abs=1e-8)
    if len(arms) == 1:
        assert fed.high == pytest.approx(most([list(corners(arms[0]))], part.low, drop.low), abs=1e-8)
    assert fed.low <= fed.typical <= fed.high
    assert (fed.typical > 0.0) == (lift.typical > 0.0)


@given(
    st.lists(
        st.lists(st.tuples(st.floats(0.0, 5.0), st.floats(1.0, 1e5)) | st.none(), min_size=0, max_size=2),
        min_size=1, max_size=4,
    ),
    st.tuples(st.floats(0.0, 5.0), st.floats(1.0, 1e5)),
    st.booleans(),
)  # fmt: skip
def test_the_bound_of_a_star_is_the_best_of_all_choices(
    more: list[list[tuple[float, float] | None]], fixed: tuple[float, float], highest: bool
) -> None:
    branches = [[fixed], *([(1.0, 1000.0), *choices] for choices in more)]
    found, picked = star_bound(branches, highest=highest)
    every = [star_voltage([b for b in choice if b is not None]) for choice in product(*branches)]
    assert found == pytest.approx((max if highest else min)(every), abs=CLOSE)
    chosen = [choices[number] for choices, number in zip(branches, picked, strict=True)]
    assert star_voltage([b for b in chosen if b is not None]) == pytest.approx(found, abs=CLOSE)


def test_black_over_a_pull_by_hand() -> None:
    """3.3 V through 135 ohm against 22 ohm beside 405 ohm; the load sees 75 of these 405."""
    pin_v = 3.3 * (1 / (1 / 22 + 1 / 405)) / (135 + 1 / (1 / 22 + 1 / 405))
    assert black_level(3.3, 135.0, 22.0, 330.0, 75.0) == pytest.approx(pin_v * 75 / 405, abs=1e-12)


def test_refusals() -> None:
    with pytest.raises(ValueError, match="half a pull"):
        Strand(pull_ohm=Span.exact(1.0))
    with pytest.raises(ValueError, match="part_ohm: as low as -1"):
        Strand(Span.exact(-1.0))
    with pytest.raises(ValueError, match="load_ohm: as low as 0"):
        Strand(load_ohm=Span.exact(0.0))
    with pytest.raises(ValueError, match="one neither loads nor pulls"):
        PinNet(Strand(), (), (Strand(),))
    with pytest.raises(ValueError, match="one rung fewer"):
        LadderNet((Strand(),), 1, (), Span.exact(1.0), Span.exact(1.0))
