"""The inlet of power: two pulls of its own, data pair, supply, shell; named by the dossier, or known by its contacts."""

from __future__ import annotations

import re

from scanloom.basis.record import record
from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph, named_ground
from scanloom.stages.board.pads import nets_file, nets_from
from scanloom.stages.board.sight import Sight

PULL_OHM, PULL_SHARE = 5100.0, 0.1
"""Pull of a sink that any source understands, and how far it may be off. [ohm]"""
_CONTACT = re.compile(r"[AB](?:1[0-2]|[1-9])")
_PAD = re.compile(r"(?:[AB](?:1[0-2]|[1-9])[_/]?)+[AB]?")  # one pad of two contacts, perhaps cut: A1B12, A1B1, A12B
_SHELL = re.compile(r"(?i)(?:S|SH|SHLD|SHIELD|SHEL|SHELL|M|MH|MP|EH|EP|G|H|P)?\d{0,2}")
_PLUS, _MINUS = (re.compile(rf"(?i)(?:.*[/_ ])?(?:UD|USBD|USB_D|D)(?:{end})") for end in (r"\+|P|_P", r"-|M|N|_N"))
_CHIP = re.compile(r"(?i)(?:U|IC)\d+[A-Z]?")


@record
class _Inlet:
    """One inlet.

    Parameters
    ----------
    name : str
        As the dossier calls it, else as the files do.
    part : str
        As the netlist calls it.
    stated : bool
        Whether the dossier names it; what is only found is judged by a caution at most.
    contacts : dict
        Net of each contact, A1 to B12.
    shell : dict
        Net of every other pad.
    """

    name: str
    part: str
    stated: bool
    contacts: dict[str, str]
    shell: dict[str, str]

    @property
    def subject(self) -> str:
        """Line of the dossier that is protected."""
        return f"board.parts.{self.name}"


def judge_inlet(sight: Sight) -> None:
    """Judge every inlet that the dossier names, and every other socket that is one by its contacts.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    References
    ----------
    [usb-c] USB Type-C Specification, table of sink terminations: Rd 5.1 kohm, within 10 % for default current; from memory.
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    stated = (
        {name for name, part in (board.parts if board else {}).items() if part.is_ == "inlet"} if graph.nets else set()
    )
    for name in sorted(stated):
        own = graph.part(name)
        if not own:
            sight.verdict(
                "board.part-missing", f"board.parts.{name}", "stop", f"The inlet {name} of the dossier is on no net of the board.",
                state="fails", used=nets_from(graph), seen="no such designator", wanted=name, place=Place(nets_file(graph)),
                doubt="Give both the same designator.",
            )  # fmt: skip
            continue
        inlet = _inlet(graph, name, own, True)
        if (
            not inlet.contacts
            and {pin for pin in inlet.shell if pin.isdigit()} <= set("0123456789")
            and "4" in inlet.shell
        ):
            sight.verdict(
                "board.inlet-pulls", inlet.subject, "note", f"{name} has four or five contacts and no A5 and B5, so it needs no pulls.",
                state="holds", used=nets_from(graph), seen=", ".join(sorted(inlet.shell)), place=_place(graph, inlet, "1"),
            )  # fmt: skip
            continue
        if "A5" not in inlet.contacts and "B5" not in inlet.contacts:
            sight.verdict(
                "board.inlet-pulls", inlet.subject, "caution", f"{name} has no contacts A5 and B5: its kind is not judged.",
                state="unknown", used=nets_from(graph), doubt="Name the contacts A1 to B12, or look at the pulls by eye.",
            )  # fmt: skip
            continue
        _whole(sight, inlet)
    known = {graph.part(name) for name in (board.parts if board else {})}
    for part in graph.parts:
        inlet = _inlet(graph, part, part, False)
        if part not in known and _is_inlet(inlet):
            _whole(sight, inlet)


def _whole(sight: Sight, inlet: _Inlet) -> None:
    """All of one inlet."""
    _pulls(sight, inlet)
    _data(sight, inlet)
    _supply(sight, inlet)
    _shell(sight, inlet)


def _inlet(graph: PinGraph, name: str, part: str, stated: bool) -> _Inlet:
    """A part's contacts and shell; a pad may be two contacts, and joined pads of one name count by the first with a net."""
    contacts: dict[str, str] = {}
    shell: dict[str, str] = {}
    for _, pin in graph.parts[part]:
        net = graph.nets[(part, pin)]
        if _PAD.fullmatch(pin.upper()):
            for contact in _CONTACT.findall(pin.upper()):
                contacts[contact] = contacts.get(contact) or net
        else:
            shell[pin] = net
    return _Inlet(name, part, stated, contacts, shell)


def _is_inlet(inlet: _Inlet) -> bool:
    """Whether a part is a socket with two faces: both pull contacts, supply and ground, nothing else but a shell."""
    names = inlet.contacts.keys()
    return (
        {"A5", "B5"} <= names
        and bool(names & {"A4", "A9", "B4", "B9"})
        and bool(names & {"A1", "A12", "B1", "B12"})
        and not names & {"A2", "A3"} - ({"A2", "A3"} if {"A12", "B12"} <= names else set())
        and len(inlet.shell) <= 8
        and all(_SHELL.fullmatch(pin) for pin in inlet.shell)
        and not _CHIP.fullmatch(inlet.part)
    )


def _is_ground(graph: PinGraph, net: str) -> bool:
    """Whether a net is ground, or one of several grounds of the board."""
    return net in graph.grounds or named_ground(net)


def _elsewhere(graph: PinGraph, inlet: _Inlet, contact: str) -> list[str]:
    """Parts of more than two pins that a contact goes to, such as the chip that may hold the pull."""
    net = inlet.contacts.get(contact, "")
    return sorted({part for part, _ in graph.pins.get(net, ()) if part != inlet.part and len(graph.parts[part]) > 2})


def _pulls(sight: Sight, inlet: _Inlet) -> None:
    """A5 and B5: each one resistor of 5.1 kohm to ground, not joined."""
    graph, pins = sight.graph, inlet.contacts
    faults: list[str] = []
    unknown: list[str] = []
    seen: list[str] = []
    bare, fed = 0, 0
    first = ""
    for contact in ("A5", "B5"):
        net = pins.get(contact, "")
        found = [(r, graph.value(r)) for r, behind in graph.beyond(net) if _is_ground(graph, behind)]
        up = [r for r, behind in graph.beyond(net) if behind in graph.rails or behind in _power(inlet)]
        fed += bool(up) and not found
        seen.append(
            f"{contact}: "
            + (", ".join(f"{r} {v.amount:g} ohm" if v else f"{r} of unknown value" for r, v in found) or "nothing")
        )
        bare += not found and not up
        if len(found) != 1:
            faults.append(f"{contact} has {len(found)} pulls to ground")
        elif found[0][1] is None:
            unknown.append(found[0][0])
        elif abs(found[0][1].amount - PULL_OHM) > PULL_SHARE * PULL_OHM:
            faults.append(f"{contact} is pulled by {found[0][1].amount:g} ohm")
        first = first or (contact if faults else "")
    joined = bool(pins.get("A5")) and pins.get("A5") == pins.get("B5")
    if joined:
        faults.append("A5 and B5 are joined")
    place, wanted = _place(graph, inlet, first or "A5"), "5.1 kohm to ground on each, apart"
    chips = sorted(set(_elsewhere(graph, inlet, "A5")) & set(_elsewhere(graph, inlet, "B5")))
    if fed == 2 and not inlet.stated:
        sight.verdict(
            "board.inlet-pulls", inlet.subject, "note", f"{inlet.name} gives power: A5 and B5 are pulled up, as a source does.",
            state="holds", used=nets_from(graph), seen="; ".join(seen), place=place,
        )  # fmt: skip
    elif bare == 2 and chips and not joined:
        sight.verdict(
            "board.inlet-pulls", inlet.subject, "stop" if inlet.stated else "caution",
            f"No resistor holds A5 and B5 of {inlet.name}; {chips[0]} may do it.",
            state="unknown", used=nets_from(graph), seen="; ".join(seen), wanted=wanted, place=place,
            doubt=f"Read in the datasheet of {chips[0]} whether it pulls both down by 5.1 kohm without power, too.",
        )  # fmt: skip
    elif faults:
        sight.verdict(
            "board.inlet-pulls", inlet.subject, "stop" if inlet.stated else "caution",
            f"{'; '.join(faults)}: many sources then give no current.",
            state="fails", used=nets_from(graph), seen="; ".join(seen), wanted=wanted, place=place,
            doubt="Fails with some sources only; joined or missing pulls leave the board dead on a cable with a C plug at both ends.",
        )  # fmt: skip
    else:
        says = (
            f"The value of {unknown[0]} is not known." if unknown else "A5 and B5 each have their own pull to ground."
        )
        sight.verdict(
            "board.inlet-pulls", inlet.subject, "stop" if inlet.stated else "caution", says, state="unknown" if unknown else "holds",
            used=nets_from(graph), seen="; ".join(seen), wanted=wanted, place=place,
            doubt="Export the parts list with values." if unknown else "",
        )  # fmt: skip


def _data(sight: Sight, inlet: _Inlet) -> None:
    """A6 with B6, A7 with B7, the two apart and leading somewhere."""
    graph, pins = sight.graph, inlet.contacts
    faults = [
        f"{a} and {b} are on different nets"
        for a, b in (("A6", "B6"), ("A7", "B7"))
        if a in pins and b in pins and pins[a] != pins[b] and not {_lonely(graph, inlet, a), _lonely(graph, inlet, b)} == {True}
    ]  # fmt: skip
    plus, minus = pins.get("A6") or pins.get("B6", ""), pins.get("A7") or pins.get("B7", "")
    turned = [pin for net, other in ((plus, _MINUS), (minus, _PLUS)) for pin in _called(graph, net, other)]
    if turned:
        faults.append(f"the data lines are exchanged at {turned[0]}")
    if plus and plus == minus:
        faults.append("both data lines are one net")
    lonely = [
        contact
        for contact in ("A6", "A7")
        if _lonely(graph, inlet, contact) and _lonely(graph, inlet, f"B{contact[1]}")
    ]
    board = sight.reading.plan.dossier.board
    wanted = any("bridge" in part.is_ for part in (board.parts if board else {}).values())
    sight.verdict(
        "board.inlet-data", inlet.subject, "caution" if faults or len(lonely) < 2 or wanted else "note",
        f"{'; '.join(faults)}." if faults else "The data lines of the inlet lead nowhere." if lonely
        else "The data pair of the inlet is complete.",
        state="fails" if faults or lonely else "holds", used=nets_from(graph),
        seen=f"A6 {pins.get('A6') or '-'}, B6 {pins.get('B6') or '-'}, A7 {pins.get('A7') or '-'}, B7 {pins.get('B7') or '-'}",
        wanted="A6 with B6, A7 with B7", place=_place(graph, inlet, "A6"),
        doubt="An inlet for power alone needs no data pair." if faults or lonely else "",
    )  # fmt: skip


def _called(graph: PinGraph, net: str, name: re.Pattern[str]) -> list[str]:
    """Pins of a name on a net, or behind one resistor."""
    nets = [net, *(behind for _, behind in graph.beyond(net))] if net else []
    return [
        f"{part}-{pin}"
        for one in nets
        for part, pin in graph.pins.get(one, ())
        if name.fullmatch(graph.functions.get((part, pin), ""))
    ]


def _lonely(graph: PinGraph, inlet: _Inlet, contact: str) -> bool:
    """Whether a contact leads to no other part."""
    net = inlet.contacts.get(contact, "")
    return all(part == inlet.part for part, _ in graph.pins.get(net, ()))


def _power(inlet: _Inlet) -> set[str]:
    """Nets of the supply contacts."""
    return {inlet.contacts[c] for c in ("A4", "A9", "B4", "B9") if c in inlet.contacts}


def _supply(sight: Sight, inlet: _Inlet) -> None:
    """Supply and ground contacts, those that there are."""
    graph = sight.graph
    power = _power(inlet)
    ground = {inlet.contacts[c] for c in ("A1", "A12", "B1", "B12") if c in inlet.contacts}
    grounded = ground <= graph.grounds or (len(ground) == 1 and all(named_ground(net) for net in ground))
    good = len(power) == 1 and "" not in power and not power & graph.grounds and grounded
    sight.verdict(
        "board.inlet-supply", inlet.subject, "stop" if inlet.stated else "caution",
        "Supply and ground of the inlet are complete." if good else "Contacts of supply or ground of the inlet are not all joined.",
        state="holds" if good else "fails", used=nets_from(graph),
        seen=f"supply {_listed(power)}; ground {_listed(ground)}",
        wanted=f"one supply net; {graph.ground}", place=_place(graph, inlet, "A4"),
        doubt="" if good else "A board with a ground of its own for the inlet looks so: look where the two meet.",
    )  # fmt: skip


def _listed(nets: set[str]) -> str:
    """Nets in words."""
    return ", ".join(sorted(net or "nothing" for net in nets)) or "none"


def _to_ground(graph: PinGraph, net: str, part: str) -> bool:
    """Whether another part on a net leads to ground."""
    others = {other for other, _ in graph.pins.get(net, ()) if other != part}
    return any(
        _is_ground(graph, graph.nets[pin]) and graph.nets[pin] != net for other in others for pin in graph.parts[other]
    )


def _shell(sight: Sight, inlet: _Inlet) -> None:
    """The shell: joined to ground, straight or through a part."""
    graph, shell = sight.graph, inlet.shell
    if not shell:
        sight.verdict(
            "board.shell-floating", inlet.subject, "caution", "No pad of the inlet's shell is in the files.", state="unknown",
            used=nets_from(graph), doubt="Give the shell's pads a name and a net.", place=_place(graph, inlet, "A1"),
        )  # fmt: skip
        return
    loose = [
        pin for pin, net in shell.items()
        if net not in graph.grounds and not _to_ground(graph, net, inlet.part)
    ]  # fmt: skip
    loose = [] if any(net in graph.grounds for net in shell.values()) else loose  # its pads are one piece of metal
    pin = (loose or list(shell))[0]
    sight.verdict(
        "board.shell-floating", inlet.subject, "caution",
        "The shell of the inlet floats." if loose else "The shell of the inlet is joined to ground.",
        state="fails" if loose else "holds", used=nets_from(graph), seen=f"{pin} on {shell[pin] or 'nothing'}",
        wanted=f"{graph.ground}, straight or through a part", place=_place(graph, inlet, pin),
        doubt="Some leave it open on purpose against ground loops; the cable's screen then does nothing." if loose else "",
    )  # fmt: skip


def _place(graph: PinGraph, inlet: _Inlet, contact: str) -> Place:
    """A contact or pad of the shell as a place."""
    pads = [pin for _, pin in graph.parts[inlet.part] if pin == contact or contact in _CONTACT.findall(pin.upper())]
    pin = pads[0] if pads else contact
    at = graph.place((inlet.part, pin))
    return Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, f"{inlet.part}-{pin}")
