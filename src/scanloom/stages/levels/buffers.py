"""How many packages of buffers carry so many outputs: the cure for pins that carry too much."""

from __future__ import annotations

import math

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.buffers import Buffer

KEPT_BACK = 0.05
"""Share of a package's absolute limit that nobody plans with. Chosen by this project, no source. [1]"""


@record
class BufferCount:
    """Packages of one logic family for so many outputs.

    Parameters
    ----------
    family : str
        Logic family.
    outputs : int
        Outputs in use. [1]
    per_package : int
        Outputs of one package that may be in use: what its current limit and its size allow. [1]
    packages : int
        Packages. [1]
    spare : int
        Outputs of all packages that are left over. [1]
    package_a : Span
        Current of the fullest package, all its outputs at white. [A]
    """

    family: str
    outputs: int
    per_package: int
    packages: int
    spare: int
    package_a: Span


def outputs_allowed(family: Buffer, output_a: float, kept_back: float = KEPT_BACK) -> int:
    """Outputs of one package that may be high at once.

    Parameters
    ----------
    family : Buffer
        The logic family.
    output_a : float
        Current of one output, above zero. [A]
    kept_back : float, optional
        Share of the package's absolute limit to stay away from. [1]

    Returns
    -------
    int
        At most as many as the package has; 0 when one output alone is too much. [1]

    Raises
    ------
    ValueError
        If the current is not above zero, or the share is not from 0 up to 1.

    References
    ----------
    [budget] Current limit of the package over current of one output.
    """
    if not (output_a > 0.0 and 0.0 <= kept_back < 1.0):
        raise ValueError(f"output {output_a} A, kept back {kept_back}; allowed are above zero, 0 up to 1; give both")
    most_a = family.package_current.high
    assert most_a is not None
    return min(family.outputs, math.floor(most_a * (1.0 - kept_back) / output_a * (1.0 + 1e-12)))


def buffer_count(family: Buffer, output_a: Span, outputs: int, packages: int | None = None) -> BufferCount:
    """Packages that so many outputs take, each as loaded as the hardest worked one.

    Parameters
    ----------
    family : Buffer
        The logic family.
    output_a : Span
        Current of the hardest worked output at white. [A]
    outputs : int
        Outputs in use, above zero. [1]
    packages : int, optional
        Packages that are there, the outputs spread evenly; absent: the fewest that carry it. [1]

    Returns
    -------
    BufferCount
        The count.

    Raises
    ------
    ValueError
        If there is no output, no package, or the current is not above zero.

    References
    ----------
    [budget] As for `outputs_allowed`, with the largest current that an output may have.
    """
    if outputs < 1 or (packages is not None and packages < 1):
        raise ValueError(f"{outputs} outputs on {packages} packages; allowed is one or more; give both")
    allowed = outputs_allowed(family, output_a.high)
    least = math.ceil(outputs / max(allowed, 1))  # one each, where even one is too much: judged, not hidden
    made = least if packages is None else packages
    fullest = math.ceil(outputs / made)
    together = Span(fullest * output_a.low, fullest * output_a.typical, fullest * output_a.high)
    return BufferCount(family.family, outputs, allowed, made, max(made * family.outputs - outputs, 0), together)
