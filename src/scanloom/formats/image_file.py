"""A maker's picture from PNG, JPEG and the like, and pictures back to PNG. Pillow does the decoding.

A file is looked at before it is decoded: size first, so that a small file cannot unfold into gigabytes.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from scanloom.formats.input_error import InputError, InputFault
from scanloom.formats.text_file import FileFault, read_bytes
from scanloom.formats.text_write import write_bytes_atomically

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_BYTES = 100_000_000
"""Largest image file that is read. [B]"""

MOST_PIXELS = 64_000_000
"""Largest image that is decoded: 8000 by 8000, more than any display shows. [1]"""

KEPT_PIXELS = 4_000_000
"""Size to which a larger image is averaged down while it is read, so that it stays small in memory. [1]"""

FORMATS = ("PNG", "JPEG", "GIF", "BMP", "WEBP", "TIFF", "PPM")
"""Formats that are read."""


@dataclass(frozen=True, slots=True, eq=False)
class MakerImage:
    """A picture as brightness.

    Parameters
    ----------
    brightness : ndarray of float, shape (rows, pixels, 3)
        Red, green, blue, 0 to 1; what was transparent lies over black. Of a large image, means over whole squares. [1]
    frames : int
        Pictures in the file, of which the first is taken. [1]
    """

    brightness: NDArray[np.float64]
    frames: int


def read_image(path: Path, shown: str, most_pixels: int = MOST_PIXELS) -> MakerImage:
    """A picture from a file: its first frame, upright, over black.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        The file as the user named it.
    most_pixels : int
        Largest picture that is decoded. [1]

    Returns
    -------
    MakerImage
        Its brightness.

    Raises
    ------
    InputError
        If the file cannot be read, is no picture, is too large, or ends too early.
    """
    try:
        raw = read_bytes(path, MOST_BYTES)
    except FileFault as error:
        raise _fault(shown, error.text) from None
    if not raw:
        raise _fault(shown, f"the file is empty; a picture is wanted ({', '.join(FORMATS)}); save it again")
    opened = _opened(raw, shown)
    with opened as image:
        width, height = image.size
        if width < 1 or height < 1:
            raise _fault(shown, f"{width}x{height} pixels; 1x1 and more are allowed; save it again")
        if width * height > most_pixels:
            raise _fault(
                shown,
                f"{width}x{height} pixels; up to {most_pixels} in all are decoded, such as 8000x8000; make it smaller",
            )
        frames = int(getattr(image, "n_frames", 1))
        try:
            image.seek(0)
            upright = ImageOps.exif_transpose(image)
            return MakerImage(_brightness(upright), frames)
        except (OSError, SyntaxError, ValueError, EOFError, IndexError) as error:
            why = str(error).strip().rstrip(".").lower() or "no reason given"
            raise _fault(
                shown,
                f"the picture ends too early or is damaged ({why}); a whole file is wanted; save or copy it again",
            ) from None


def fitted(image: MakerImage, width_px: int, rows: int, pixel_aspect: float = 1.0) -> NDArray[np.float64]:
    """A picture at the size that is stored, whole and undistorted, black beside it.

    Parameters
    ----------
    image : MakerImage
        The picture.
    width_px : int
        Stored pixels of a row. [1]
    rows : int
        Image rows. [1]
    pixel_aspect : float
        Width of a stored pixel over its height. [1]

    Returns
    -------
    ndarray of float, shape (rows, pixels, 3)
        Brightness, 0 to 1. [1]

    Raises
    ------
    ValueError
        If the size has no pixel, or the aspect is not above zero.
    """
    if width_px < 1 or rows < 1 or not pixel_aspect > 0.0:
        raise ValueError(
            f"size {width_px}x{rows} with pixels of {pixel_aspect!r}: 1x1 and more and an aspect above 0 are allowed"
        )
    own_rows, own_px = image.brightness.shape[:2]
    scale = min(width_px * pixel_aspect / own_px, rows / own_rows)
    wide = min(max(1, round(own_px * scale / pixel_aspect)), width_px)
    high = min(max(1, round(own_rows * scale)), rows)
    made = np.zeros((rows, width_px, 3))
    left, top = (width_px - wide) // 2, (rows - high) // 2
    for colour in range(3):
        plane = Image.fromarray(image.brightness[:, :, colour].astype(np.float32))  # mode F keeps 16 bits and more
        drawn = np.asarray(plane.resize((wide, high), Image.Resampling.BOX), dtype=np.float64)
        made[top : top + high, left : left + wide, colour] = np.clip(drawn, 0.0, 1.0)
    return made


def write_png(path: Path, picture: NDArray[np.uint8]) -> None:
    """Write a picture as PNG, whole or not at all.

    Parameters
    ----------
    path : Path
        The file.
    picture : ndarray of uint8, shape (rows, pixels, 3)
        Red, green, blue. [1]

    Raises
    ------
    FileFault
        If it cannot be written.
    """
    write_bytes_atomically(path, png_bytes(picture))


def png_bytes(picture: NDArray[np.uint8]) -> bytes:
    """A picture as PNG, without date or other extras: the same picture gives the same bytes.

    Parameters
    ----------
    picture : ndarray of uint8, shape (rows, pixels, 3)
        Red, green, blue. [1]

    Returns
    -------
    bytes
        The file.
    """
    packed = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(picture), "RGB").save(packed, "PNG")
    return packed.getvalue()


def _opened(raw: bytes, shown: str) -> Image.Image:
    """The file with its head read, nothing decoded."""
    most, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None  # ours is asked below, with the size in its sentence
    try:
        return Image.open(io.BytesIO(raw), formats=FORMATS)
    except UnidentifiedImageError:
        raise _fault(shown, f"no picture of a known kind; {', '.join(FORMATS)} are read; save it as PNG") from None
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        why = str(error).strip().rstrip(".").lower() or "no reason given"
        raise _fault(
            shown, f"the head of the picture is damaged ({why}); a whole file is wanted; save it again"
        ) from None
    finally:
        Image.MAX_IMAGE_PIXELS = most


def _brightness(image: Image.Image) -> NDArray[np.float64]:
    """Brightness of a picture of any kind, over black, averaged down when it is large."""
    squares = max(1, math.ceil(math.sqrt(image.width * image.height / KEPT_PIXELS)))
    if image.mode in ("I;16", "I;16B", "I;16L", "I", "F"):
        full = 1.0 if image.mode == "F" else 65535.0
        grey = Image.fromarray(np.nan_to_num(np.asarray(image, dtype=np.float32)) / np.float32(full))
        shares = np.clip(np.asarray(_averaged(grey, squares), dtype=np.float64), 0.0, 1.0)
        return np.repeat(shares[:, :, None], 3, axis=2)
    if image.has_transparency_data:
        # Pillow multiplies by alpha before it averages, so that what is transparent has no colour
        layered = np.asarray(_averaged(image.convert("RGBA"), squares), dtype=np.float64) / 255.0
        return np.ascontiguousarray(layered[:, :, :3] * layered[:, :, 3:])
    return np.asarray(_averaged(image.convert("RGB"), squares), dtype=np.float64) / 255.0


def _averaged(image: Image.Image, squares: int) -> Image.Image:
    """Means over squares of so many pixels."""
    return image if squares == 1 else image.reduce(squares)


def _fault(shown: str, text: str) -> InputError:
    """One fault of the file."""
    return InputError((InputFault(shown, 0, 0, "", text),))
