"""Pictures of a rig as text, JSON, and one sheet with all displays side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.handbook.limits import limit
from scanloom.report import picture_documents as d
from scanloom.report.figures import figure
from scanloom.report.sheets import plain_table
from scanloom.stages.picture.effects import ILLUSTRATED, Effects
from scanloom.stages.picture.figures import ChannelSight, TailShare
from scanloom.stages.picture.sizes import EffectSize
from scanloom.survey.drawn import DrawnDisplay, DrawnRig

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_GAP_PX, _CAPTION_ROWS, _PAPER = 16, 24, 40


def picture_doc(
    file: str,
    shows: str,
    size: tuple[int, int],
    drawn: DrawnRig,
    effects: Effects,
    out: str | None,
    sizes: Sequence[EffectSize] = (),
) -> d.PictureDoc:
    """Pictures of a rig.

    Parameters
    ----------
    file : str
        The dossier's file.
    shows : str
        Name of the picture, or of the maker's image.
    size : tuple of int
        Stored pixels of a row, and rows. [1]
    drawn : DrawnRig
        The pictures.
    effects : Effects
        What counts.
    out : str or None
        File that holds the picture now.
    sizes : sequence of EffectSize
        What each effect does, where that was asked for.

    Returns
    -------
    PictureDoc
        For JSON.
    """
    return d.PictureDoc(
        file=file,
        rig=drawn.rig,
        shows=shows,
        size=list(size),
        displays=[_shown(one, effects) for one in drawn.displays],
        illustration={name: ILLUSTRATED[name] for name in effects.on if name in ILLUSTRATED},
        sizes=[
            d.EffectSizeDoc(effect=s.effect, display=s.display, mean_v=s.mean_v, most_v=s.most_v, mean_lsb=s.mean_lsb)
            for s in sizes
        ],
        out=out,
        mark=drawn.mark,
    )


def picture_sheet(title: str, shows: str, drawn: DrawnRig, effects: Effects) -> RenderableType:
    """Pictures of a rig in words and numbers.

    Parameters
    ----------
    title : str
        Title or file of the dossier.
    shows : str
        Name of the picture.
    drawn : DrawnRig
        The pictures.
    effects : Effects
        What counts.

    Returns
    -------
    RenderableType
        For a console.
    """
    head, rows = picture_figures(drawn)
    table = plain_table(*head)
    for row in rows:
        table.add_row(*row)
    words = [Text(words) for words in picture_words(drawn, effects)]
    return Group(Text(f"{title}: {shows} on rig {drawn.rig}", style="bold"), table, *words)


def picture_figures(drawn: DrawnRig) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Figures of each display, those of its worst channel.

    Parameters
    ----------
    drawn : DrawnRig
        The pictures.

    Returns
    -------
    tuple
        Headings, and a row a display.
    """
    rows = []
    for one in drawn.displays:
        white = worst_white(one)
        detail, tail = worst_detail(one), worst_tail(one)
        row = (
            one.path.name,
            {True: "yes", False: "no", None: "perhaps"}[one.outlook.locks],
            "-" if white is None else figure(white.white_v, "V"),
            "-" if detail is None else f"{detail.alternating_contrast:.0%}",
            "-" if tail is None else f"{tail.worst_tail:.1%}",
            f"{one.shown.clipped_share:.1%}",
            f"{one.apart.mean:.1f}/255",
        )
        rows.append(row)
    return ("display", "locks", "white", "contrast", "tail", "clipped", "apart"), tuple(rows)


def picture_words(drawn: DrawnRig, effects: Effects) -> tuple[str, ...]:
    """What has to be said of the pictures, displays alike in one sentence.

    Parameters
    ----------
    drawn : DrawnRig
        The pictures.
    effects : Effects
        What counts.

    Returns
    -------
    tuple of str
        Sentences: displays first, then how exact it is, then the effects and which of them are an illustration.
    """
    alike: dict[str, list[str]] = {}
    for one in drawn.displays:
        for sentence in _sentences(one):
            alike.setdefault(sentence, []).append(one.path.name)
    words = [f"{', '.join(names)}: {sentence}" for sentence, names in alike.items()]
    bounds = [c.echo_bound_v for one in drawn.displays for c in one.sight.channels]
    known = [bound for bound in bounds if bound is not None]
    if known:
        rest = "" if len(known) == len(bounds) else "; of some channels no bound is known"
        words.append(f"A sample is at most {max(known) * 1e3:.1f} mV off by the way it is computed{rest}.")
    words.append(f"Effects: {', '.join(effects.on) or 'none'}.")
    drawn_after = [name for name in effects.on if name in ILLUSTRATED]
    if drawn_after:
        words.append(f"Of these an illustration, since their constants are assumed: {', '.join(drawn_after)}.")
    return tuple(words)


def sizes_sheet(sizes: Sequence[EffectSize]) -> RenderableType:
    """What each effect does to a picture, the display it moves most.

    Parameters
    ----------
    sizes : sequence of EffectSize
        Every effect on every display.

    Returns
    -------
    RenderableType
        For a console.
    """
    table = plain_table("effect", "display it moves most", "on average", "at most", "numbers shown")
    for name in dict.fromkeys(one.effect for one in sizes):
        worst = max((one for one in sizes if one.effect == name), key=lambda one: (one.mean_lsb, one.mean_v))
        table.add_row(
            name,
            worst.display,
            f"{worst.mean_v * 1e3:.2f} mV",
            f"{worst.most_v * 1e3:.1f} mV",
            f"{worst.mean_lsb:.2f} of 255",
        )
    return table


def loupe_sheet(display: str, channel: str, volts: NDArray[np.float64]) -> RenderableType:
    """Volts of a small region, a line a row.

    Parameters
    ----------
    display : str
        The display.
    channel : str
        red, green or blue.
    volts : ndarray of float, shape (lines, samples)
        Voltages at the input. [V]

    Returns
    -------
    RenderableType
        For a console.
    """
    rows = [" ".join(f"{volt:6.3f}" for volt in line) for line in volts]
    return Group(Text(f"{display}.{channel}, volts at the input", style="bold"), *(Text(row) for row in rows))


def worst_white(one: DrawnDisplay) -> ChannelSight | None:
    """Channel of the brightest white.

    Parameters
    ----------
    one : DrawnDisplay
        The display.

    Returns
    -------
    ChannelSight or None
        None without a driven channel.
    """
    return max(one.sight.channels, key=lambda c: c.white_v, default=None)


def worst_detail(one: DrawnDisplay) -> ChannelSight | None:
    """Channel of the least contrast in fine detail.

    Parameters
    ----------
    one : DrawnDisplay
        The display.

    Returns
    -------
    ChannelSight or None
        None without a driven channel.
    """
    return min(one.sight.channels, key=lambda c: c.alternating_contrast, default=None)


def worst_tail(one: DrawnDisplay) -> ChannelSight | None:
    """Channel that leaves most beside a lone pixel.

    Parameters
    ----------
    one : DrawnDisplay
        The display.

    Returns
    -------
    ChannelSight or None
        None without a driven channel.
    """
    return max(one.sight.channels, key=lambda c: c.worst_tail, default=None)


def side_by_side(pictures: Sequence[tuple[str, NDArray[np.uint8]]], across: int = 3) -> NDArray[np.uint8]:
    """One sheet with pictures in rows, each with its name below.

    Parameters
    ----------
    pictures : sequence of (str, ndarray of uint8)
        Names and pictures, shape (rows, pixels, 3). [1]
    across : int
        Pictures in a row. [1]

    Returns
    -------
    ndarray of uint8, shape (rows, pixels, 3)
        The sheet. [1]
    """
    import numpy as np

    wide = max(picture.shape[1] for _, picture in pictures)
    columns = min(across, len(pictures))
    bands: list[NDArray[np.uint8]] = []
    for begin in range(0, len(pictures), columns):
        row = pictures[begin : begin + columns]
        high = max(picture.shape[0] for _, picture in row)
        band = np.full(
            (high + _CAPTION_ROWS + _GAP_PX, columns * (wide + _GAP_PX) + _GAP_PX, 3), _PAPER, dtype=np.uint8
        )
        for place, (name, picture) in enumerate(row):
            left = _GAP_PX + place * (wide + _GAP_PX)
            band[_GAP_PX : _GAP_PX + picture.shape[0], left : left + picture.shape[1]] = picture
            _write_name(band, name, left, _GAP_PX + high + 5)
        bands.append(band)
    return np.concatenate(bands, axis=0)


def _write_name(sheet: NDArray[np.uint8], name: str, left: int, top: int) -> None:
    """A name in letters twice their own size."""
    import numpy as np

    from scanloom.stages.picture.lettering import written

    letters = np.repeat(np.repeat(written(name.upper()), 2, axis=0), 2, axis=1)[: sheet.shape[0] - top]
    letters = letters[:, : sheet.shape[1] - left]
    sheet[top : top + letters.shape[0], left : left + letters.shape[1]][letters > 0] = 230


def _sentences(one: DrawnDisplay) -> list[str]:
    """What has to be said of one display, worst first."""
    said: list[str] = []
    if one.outlook.locks is False:
        said.append(f"no lock, {one.outlook.why_not}.")
    elif one.outlook.locks is None:
        said.append(f"perhaps no lock, {one.outlook.why_not}.")
    if not one.sight.channels:
        return [*said, "no channel is driven, so it stays dark."]
    if one.path.cable is None:
        said.append("no cable is stated, so it is drawn without one; a cable takes contrast and leaves tails.")
    white, tail = worst_white(one), worst_tail(one)
    assert white is not None and tail is not None
    most_v, seen = limit("full-scale").high or 1.0, (limit("ghost").high or 2.0) / 100.0
    if white.white_v > most_v:
        said.append(
            f"white is {white.white_v:.3f} V and clips; an input takes {most_v:.1f} V at most, so {one.shown.clipped_share:.0%} "
            "of the picture is beyond it."
        )
    codes = tail.worst_tail * 255.0
    if tail.worst_tail > seen:
        lone = tail.cable_tail + tail.recovery_tail
        said.append(
            f"beside one-pixel detail {tail.channel} keeps {tail.worst_tail:.1%} of full scale ({codes:.1f} codes), more than "
            f"the {seen:.0%} that are seen; behind a lone white pixel {lone:.1%}: {tail.cable_tail:+.1%} by circuit and cable, "
            f"{tail.recovery_tail:+.1%} by recovery from overload."
        )
    elif codes < 1.0:
        said.append(f"what stands beside one-pixel detail is under one code ({codes:.2f} of 255).")
    return said


def _shown(one: DrawnDisplay, effects: Effects) -> d.ShownDoc:
    """One display for JSON."""
    white, detail, tail = worst_white(one), worst_detail(one), worst_tail(one)
    panel = one.path.panel
    return d.ShownDoc(
        name=one.path.name,
        locks=one.outlook.locks,
        why_not=one.outlook.why_not,
        white_v=None if white is None else white.white_v,
        alternating_contrast=None if detail is None else detail.alternating_contrast,
        ghost=[] if tail is None else _ghosts(tail.tails),
        clipped_share=one.shown.clipped_share,
        effects=list(effects.on),
        channels=[
            d.SightDoc(
                channel=c.channel, white_v=c.white_v, converter_v=c.converter_v,
                alternating_contrast=c.alternating_contrast, width_s=c.width_s, worst_tail=c.worst_tail,
                cable_tail=c.cable_tail, recovery_tail=c.recovery_tail, dark_share=c.dark_share, ghost=_ghosts(c.tails),
                echoes=_ghosts(c.echoes), echo_bound_v=c.echo_bound_v,
            )
            for c in one.sight.channels
        ],
        apart=d.ApartDoc(mean=one.apart.mean, worst=one.apart.worst, share=one.apart.share),
        size=[one.shown.native.shape[1], one.shown.native.shape[0]],
        panel=None if panel is None else list(panel),
        loupe={},
    )  # fmt: skip


def _ghosts(tails: Sequence[TailShare]) -> list[d.GhostDoc]:
    """Tails for JSON."""
    return [d.GhostDoc(delay_px=tail.delay_px, share=tail.share) for tail in tails]
