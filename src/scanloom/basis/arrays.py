"""Arrays that a result may hold: copied once, then locked."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Kind = TypeVar("Kind", bound=np.generic)


def held(values: NDArray[Kind], shape: tuple[int, ...]) -> NDArray[Kind]:
    """Copy of an array that nobody can write.

    Parameters
    ----------
    values : ndarray
        The numbers. [unit]
    shape : tuple of int
        Shape that is promised. [1]

    Returns
    -------
    ndarray
        The same numbers. [unit]

    Raises
    ------
    ValueError
        If the shape is another one.
    """
    if values.shape != shape:
        raise ValueError(f"array of shape {values.shape}: {shape} is promised; hand in that shape")
    made = values.copy()
    made.setflags(write=False)
    return made
