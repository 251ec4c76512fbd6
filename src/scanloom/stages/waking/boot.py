"""Verdicts on pins that the chip reads while it starts, and on what displays make of them."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.fact import Known
from scanloom.basis.verdict import Judged, Patch, Settle, Verdict, Weight, judge
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Logic, Pin
from scanloom.handbook.series import values
from scanloom.stages.levels.network import Missing, pin_driver, pin_rail
from scanloom.stages.levels.remedy import buffered_colour
from scanloom.stages.waking.model import BootLevel
from scanloom.stages.waking.nets import Hanging, Net, hanging, moved, rows_on
from scanloom.stages.waking.node import PinNet, black_level, pull_needed

RULES = {"must be high": "must be high", "must be low": "must be low", "high by default": "is high by default"}
LEAST_PULL_OHM = 1000.0
"""A pull stronger than this wastes milliamperes whenever its pin is driven the other way. Common practice, no source. [ohm]"""


def judge_boot(reading: Reading, chip: Chip, nets: Sequence[Net], verdicts: list[Verdict]) -> tuple[BootLevel, ...]:
    """Level of every pin with a boot role that carries colour or sync, displays attached and not.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    chip : Chip
        Record of the chip.
    nets : sequence of Net
        All nets of the board.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    tuple of BootLevel
        Those whose levels are known.
    """
    made: list[BootLevel] = []
    for net, pin, row in rows_on(chip, nets):
        if row.boot is None:
            continue
        read = reading.fork()
        if reading.plan.dossier.chip is not None:
            read.maybe(reading.plan.dossier.chip.like)
        read(net.stated)
        read(chip.known("pin", row))
        level = _judge_pin(read, chip, net, pin, row, verdicts)
        if level is not None:
            made.append(level)
    return tuple(made)


def _judge_pin(read: Reading, chip: Chip, net: Net, pin: int, row: Pin, verdicts: list[Verdict]) -> BootLevel | None:
    """One pin; what is missing becomes an unknown."""
    subject = net.subject(pin)
    weight: Weight = "note" if row.boot == "high by default" else "stop"
    high = row.boot != "must be low"
    if chip.table.logic is None:
        verdicts.append(
            read.verdict(
                "waking.boot-pin", subject, weight, f"Pin {pin} has a boot role, but what this chip reads as high and low is not known.",
                state="unknown", settle=Settle("Look them up in the chip's datasheet.", fact="chip.like"),
            )
        )  # fmt: skip
        return None
    limit = chip.known("logic", chip.table.logic)
    logic = read(limit)
    try:
        hung = hanging(read, chip, logic, net, pin)
    except Missing as missing:
        says = missing.says[:1].lower() + missing.says[1:]
        verdicts.append(
            read.verdict(
                "waking.boot-pin", subject, weight,
                f"Whether pin {pin} is {'high' if high else 'low'} while the chip starts cannot be said: {says}.",
                state="unknown", settle=Settle(missing.measure, fact=missing.fact),
            )
        )  # fmt: skip
        return None
    level = BootLevel(
        subject,
        pin,
        "high" if high else "low",
        hung.level(plugged=False),
        hung.level(plugged=True),
        hung.worst(highest=not high),
    )
    verdicts.append(_verdict(read, chip, net, row, limit, hung, level, weight))
    return level


def _verdict(
    read: Reading, chip: Chip, net: Net, row: Pin, limit: Known[Logic], hung: Hanging, level: BootLevel, weight: Weight
) -> Verdict:
    """The pin's level against what the chip takes for high or low."""
    pin, wants = level.start_pin, level.wants
    high_least, low_most = float(limit.value.high_least), float(limit.value.low_most)
    low, high = (high_least, None) if wants == "high" else (None, low_most)
    state, _ = judge(level.worst_v, low, high) if level.worst_v is not None else ("unknown", None)
    floats = level.detached_v is None and state == "holds"
    who = _who(net, level, low, high, read)
    rule, turned = RULES[row.boot or "must be high"], {"high": "low", "low": "high"}[wants]
    effect = "".join((": ", row.boot_effect) if row.boot_effect else ())
    pull = "".join(() if state == "holds" else _pull_says(read, net, level, limit.value, hung))
    held = ", since only a buffer hangs on it" if hung.buffered else ", with displays plugged in or not"
    return read.verdict(
        "waking.boot-pin",
        level.subject,
        weight,
        {
            "holds": f"Pin {pin} is {wants} while the chip starts{held}.",
            "fails": f"Pin {pin} {rule} while the chip starts, but {who} it {turned}{effect}. {pull}",
            "unknown": f"Pin {pin} {rule} while the chip starts, but nothing holds it while no display is plugged in{effect}."
            if level.worst_v is None or floats
            else f"Pin {pin} {rule} while the chip starts, but with these tolerances {who} it perhaps {turned}{effect}.",
        },
        found=level.worst_v,
        unit="V",
        low=low,
        high=high,
        state="unknown" if floats else None,
        limit=limit,
        settle=Settle(
            f"With a program that leaves pin {pin} alone and all displays plugged in, measure pin {pin} to ground; then unplug them.",
            f"{high_least:.4g} V or more" if wants == "high" else f"{low_most:.4g} V or less",
            "less, either time" if wants == "high" else "more, either time",
            10,
        ),
        remedy=_remedy(read, chip, net, level, hung),
    )  # fmt: skip


def _who(net: Net, level: BootLevel, low: float | None, high: float | None, read: Reading) -> str:
    """What spoils the level: the displays, or the chip's own pulls."""
    alone: Judged = "holds" if level.detached_v is None else judge(level.detached_v, low, high)[0]
    if alone == "holds":
        carried = net.words(read.plan)
        return "the displays' sync inputs hold" if net.is_sync else f"{carried} holds"
    return (
        "without a display the pulls of the channel's other pins hold"
        if len(net.stated.value) > 1
        else "its own pull holds"
    )


def _remedy(read: Reading, chip: Chip, net: Net, level: BootLevel, hung: Hanging) -> tuple[Patch, ...]:
    """Another pin, or a buffer between pin and displays."""
    made = list(moved(read, chip, net, level.start_pin))
    if net.connector is not None and not hung.buffered:
        plugs = net.connector.plugs
        display = None if plugs is None else read.plan.displays.get(plugs.value)
        made.extend(buffered_colour(read, display, len(net.stated.value)))
    if net.is_sync and not hung.buffered:
        left = "" if level.detached_v is None else f"; its own pull then leaves it at {level.detached_v.typical:.2f} V"
        made.append(
            Patch(
                "levels.sync",
                '{ style = "buffered", buffer = "LVC", outputs = "one per display", branch = "47 ohm ± 5 %" }',
                f"buffer the syncs, so that only a buffer hangs on pin {level.start_pin}{left}",
            )
        )
    return tuple(made)


def _pull_says(read: Reading, net: Net, level: BootLevel, logic: Logic, hung: Hanging) -> tuple[str, ...]:
    """Whether a resistor on the board could hold the pin, and what else it would do; nothing read here is noted."""
    aside = read.fork()
    if not isinstance(hung.circuit, PinNet):
        return ("Give it another pin.",)
    try:
        rail, driver = pin_rail(aside), pin_driver(aside)
    except Missing:
        return ("Give it another pin.",)
    down = level.wants == "low"
    limit_v = float(logic.low_most if down else logic.high_least)
    most_ohm = pull_needed(hung.circuit, limit_v, rail.low, down=down)
    if most_ohm is None:
        return ("No resistor at the pin mends it.",)
    # the largest that can be bought; rounding may put the sum an ulp below it
    need_ohm = values("E24", most_ohm / 2.0, most_ohm * (1.0 + 1e-9))[-1]
    kind = "pull-down" if down else "pull-up"
    useless = ", too strong to be of use" if need_ohm < LEAST_PULL_OHM else ""
    text = f"It would take a {kind} of {need_ohm:.0f} ohm or less to bring it to {limit_v:.4g} V{useless}"
    if net.is_sync or down or not hung.circuit.displays:
        return (text, ".")
    load = hung.circuit.displays[0].load_ohm
    assert load is not None
    others = sum(1.0 / (arm.part_ohm.typical + driver.low_ohm.typical) for arm in hung.circuit.fixed)
    black_v = black_level(
        rail.typical, need_ohm, driver.low_ohm.typical, hung.circuit.own.part_ohm.typical, 1.0 / (1.0 / load.typical + others)
    )  # fmt: skip
    return (text, f"; black would rise to {black_v * 1e3:.0f} mV.")
