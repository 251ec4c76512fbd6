"""A maker's pictures: every kind that can be read comes out as brightness, every other with one clear error."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanloom.formats.image_file import MakerImage, fitted, read_image, write_png
from scanloom.formats.input_error import InputError
from scanloom.formats.text_file import FileFault


def saved(folder: Path, image: Image.Image, name: str, **more: object) -> Path:
    path = folder / name
    image.save(path, **more)  # type: ignore[arg-type]
    return path


def refused(path: Path) -> str:
    """The one fault of a file."""
    with pytest.raises(InputError) as caught:
        read_image(path, path.name)
    (fault,) = caught.value.faults
    assert fault.file == path.name
    assert fault.text.count(";") >= 2, "what was given; what is allowed; what to do"
    return fault.text


def png_head(width: int, height: int) -> bytes:
    """A PNG that promises a size and holds next to nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(1, 1), (3, 5), (17, 1), (1, 300), (641, 479)])
def test_odd_sizes_and_a_single_pixel(tmp_path: Path, size: tuple[int, int]) -> None:
    pixels = np.random.default_rng(1).integers(0, 256, (size[1], size[0], 3)).astype(np.uint8)
    got = read_image(saved(tmp_path, Image.fromarray(pixels), "a.png"), "a.png")
    assert got.frames == 1
    assert np.array_equal(got.brightness, pixels / 255.0)


def test_alpha_lies_over_black(tmp_path: Path) -> None:
    layered = Image.new("RGBA", (2, 1))
    layered.putpixel((0, 0), (200, 100, 50, 128))
    layered.putpixel((1, 0), (255, 255, 255, 0))
    got = read_image(saved(tmp_path, layered, "a.png"), "a.png").brightness
    assert got[0, 0] == pytest.approx(np.array([200, 100, 50]) / 255.0 * 128 / 255.0)
    assert not got[0, 1].any()
    palette = Image.new("P", (2, 1))
    palette.putpalette([255, 0, 0, 0, 255, 0])
    palette.putpixel((1, 0), 1)
    got = read_image(saved(tmp_path, palette, "b.gif", transparency=1), "b.gif").brightness
    assert got[0, 0].tolist() == [1.0, 0.0, 0.0]
    assert not got[0, 1].any()


def test_sixteen_bits_keep_their_depth(tmp_path: Path) -> None:
    deep = np.array([[0, 1, 256, 32768, 65535]], dtype=np.uint16)
    got = read_image(saved(tmp_path, Image.fromarray(deep), "a.png"), "a.png").brightness
    assert got[0, :, 0] == pytest.approx(deep[0] / 65535.0, abs=1e-7)
    assert np.array_equal(got[:, :, 0], got[:, :, 2])


def test_first_frame_of_an_animation(tmp_path: Path) -> None:
    frames = [Image.new("RGB", (4, 4), colour) for colour in ("red", "blue", "lime")]
    path = saved(tmp_path, frames[0], "a.gif", save_all=True, append_images=frames[1:])
    got = read_image(path, "a.gif")
    assert got.frames == 3
    assert got.brightness[0, 0].tolist() == [1.0, 0.0, 0.0]


def test_jpeg_and_grey_and_one_bit(tmp_path: Path) -> None:
    grey = Image.new("L", (16, 16), 128)
    got = read_image(saved(tmp_path, grey, "a.jpg", quality=95), "a.jpg").brightness
    assert np.abs(got - 128 / 255.0).max() < 0.01
    got = read_image(saved(tmp_path, Image.new("1", (3, 3), 1), "b.png"), "b.png").brightness
    assert (got == 1.0).all()


def test_a_photograph_stands_upright(tmp_path: Path) -> None:
    wide = Image.new("RGB", (6, 2))
    turned = Image.Exif()
    turned[0x0112] = 6  # to be turned by a quarter
    got = read_image(saved(tmp_path, wide, "a.jpg", exif=turned.tobytes()), "a.jpg").brightness
    assert got.shape[:2] == (6, 2)


def test_a_huge_picture_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    path = tmp_path / "huge.png"
    path.write_bytes(png_head(20_000, 20_000))
    text = refused(path)
    assert "20000x20000" in text
    assert "64000000" in text
    small = tmp_path / "twin.png"
    small.write_bytes(b"")
    Image.new("L", (200, 200)).save(small)
    assert read_image(small, "twin.png").brightness.shape == (200, 200, 3)


@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA", "I;16"])
def test_a_large_picture_is_averaged_down(tmp_path: Path, mode: str) -> None:
    deep = np.zeros((2500, 3001), dtype=np.uint16)
    deep[:, 1500:] = 65535
    half = Image.fromarray(deep) if mode == "I;16" else Image.fromarray((deep >> 8).astype(np.uint8)).convert(mode)
    got = read_image(saved(tmp_path, half, "a.png", compress_level=1), "a.png").brightness
    assert got.shape == (1250, 1501, 3)
    assert got.mean() == pytest.approx(1501 / 3001, abs=1e-3)
    assert np.unique(got[:, :749]).tolist() == [0.0]


def test_truncated_files(tmp_path: Path) -> None:
    noise = Image.fromarray(np.random.default_rng(2).integers(0, 256, (60, 80, 3)).astype(np.uint8))
    for name in ("a.png", "a.jpg", "a.gif"):
        packed = io.BytesIO()
        noise.save(packed, {"png": "PNG", "jpg": "JPEG", "gif": "GIF"}[name[2:]])
        whole = packed.getvalue()
        path = tmp_path / name
        path.write_bytes(whole)
        assert read_image(path, name).brightness.shape == (60, 80, 3)
        path.write_bytes(whole[: len(whole) // 2])
        assert "ends too early or is damaged" in refused(path)
        path.write_bytes(whole[:20])
        refused(path)


def test_what_is_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "notes.png"
    path.write_text("not a picture at all", encoding="utf-8")
    assert "no picture of a known kind" in refused(path)
    path.write_bytes(b"")
    assert "empty" in refused(path)
    assert "no such file" in refused(tmp_path / "nothing.png")
    assert "a folder" in refused(tmp_path)


def test_reading_leaves_the_library_as_it_was(tmp_path: Path) -> None:
    before = Image.MAX_IMAGE_PIXELS
    path = tmp_path / "huge.png"
    path.write_bytes(png_head(20_000, 20_000))
    refused(path)
    assert before == Image.MAX_IMAGE_PIXELS


@pytest.mark.parametrize(
    ("own", "size", "aspect"), [((40, 30), (320, 240), 1.0), ((30, 40), (320, 240), 1.0), ((7, 7), (160, 240), 2.0)]
)
def test_fitted_is_whole_undistorted_and_in_the_middle(
    own: tuple[int, int], size: tuple[int, int], aspect: float
) -> None:
    image = MakerImage(np.ones((own[1], own[0], 3)), 1)
    made = fitted(image, *size, aspect)
    assert made.shape == (size[1], size[0], 3)
    lit = made[:, :, 0] > 0.5
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    assert lit[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].all()
    shape = (columns.size * aspect) / rows.size
    assert shape == pytest.approx(own[0] / own[1], rel=0.02)
    assert abs(columns[0] - (size[0] - 1 - columns[-1])) <= 1
    assert abs(rows[0] - (size[1] - 1 - rows[-1])) <= 1
    assert rows.size == size[1] or columns.size == size[0]


def test_fitted_refuses_no_size() -> None:
    with pytest.raises(ValueError, match="1x1 and more"):
        fitted(MakerImage(np.ones((1, 1, 3)), 1), 0, 5)


def test_a_png_comes_back_as_written(tmp_path: Path) -> None:
    pixels = np.random.default_rng(4).integers(0, 256, (13, 7, 3)).astype(np.uint8)
    path = tmp_path / "a.png"
    path.write_bytes(b"\xef\xbb\xbfold")
    write_png(path, pixels)
    assert np.array_equal(np.asarray(Image.open(path)), pixels)
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]
    with pytest.raises(FileFault, match="make its folder first"):
        write_png(tmp_path / "none" / "a.png", pixels)
