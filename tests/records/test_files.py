"""Pictures come out upright and in sRGB, bounded by their header; files are kept whole, by digest, and read-only."""

from __future__ import annotations

import os
import stat
import struct
import threading
import time
import warnings
import zlib
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
import tifffile
from PIL import Image, ImageCms, ImageFile, ImageOps
from wide_profile import matrix_profile

from refarchive.errors import ArchiveDamaged, ArchiveUnwritable, SourceRefused
from refarchive.records import files
from refarchive.records.files import Files, hash_of, open_picture, picture_size, sniff

RED, GREEN, BLUE, YELLOW = (200, 30, 30), (30, 160, 40), (20, 40, 180), (240, 230, 90)


def quarters(width: int = 60, height: int = 40) -> Image.Image:
    pixels = np.empty((height, width, 3), np.uint8)
    pixels[: height // 2, : width // 2], pixels[: height // 2, width // 2 :] = RED, BLUE
    pixels[height // 2 :, : width // 2], pixels[height // 2 :, width // 2 :] = GREEN, YELLOW
    return Image.fromarray(pixels)


def difference(one: Image.Image, other: Image.Image) -> int:
    return int(np.abs(np.asarray(one, int) - np.asarray(other, int)).max())


def exif(orientation: int) -> Image.Exif:
    tags = Image.Exif()
    tags[0x0112] = orientation
    return tags


# --- upright ------------------------------------------------------------------------------------------------------

KINDS = {
    "jpg": {"quality": 95, "subsampling": 0},
    "png": {},
    "webp": {"lossless": True},
    "tif": {},
    "lzw.tif": {"compression": "tiff_lzw"},
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", KINDS)
def test_all_eight_orientations_as_pillow_turns_them(tmp_path: Path, kind: str, orientation: int) -> None:
    path = tmp_path / f"a.{kind}"
    quarters().save(path, exif=exif(orientation), **KINDS[kind])
    with Image.open(path) as image:
        expected = ImageOps.exif_transpose(image).convert("RGB")
    got = open_picture(path)
    assert got.mode == "RGB"
    assert got.size == expected.size == picture_size(path)[:2]
    assert difference(got, expected) == 0
    small = open_picture(path, longest=30)
    assert max(small.size) == 30
    assert (small.width > small.height) == (got.width > got.height)


def test_an_orientation_out_of_range_turns_nothing(tmp_path: Path) -> None:
    for orientation in (0, 9, 65535):
        quarters().save(tmp_path / "a.png", exif=exif(orientation))
        assert difference(open_picture(tmp_path / "a.png"), quarters()) == 0


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_heic_is_turned_once(tmp_path: Path, orientation: int) -> None:
    path = tmp_path / "a.heic"
    pillow_heif.from_pillow(quarters(240, 160)).save(path, quality=95, exif=exif(orientation).tobytes())
    turned = quarters(240, 160)
    turned.getexif()[0x0112] = orientation
    expected = ImageOps.exif_transpose(turned)
    assert picture_size(path) == (*expected.size, "image/heic")
    got = open_picture(path)
    assert got.size == expected.size
    w, h = got.size
    for x, y in ((w // 4, h // 4), (3 * w // 4, h // 4), (w // 4, 3 * h // 4), (3 * w // 4, 3 * h // 4)):
        assert np.abs(np.subtract(got.getpixel((x, y)), expected.getpixel((x, y)))).max() <= 6  # lossy


# --- sRGB ---------------------------------------------------------------------------------------------------------


@pytest.mark.filterwarnings("ignore::UserWarning:colour", "ignore::DeprecationWarning:colour")
@pytest.mark.parametrize("kind", ["png", "jpg", "tif", "webp", "rgba.png", "planar16.tif"])
def test_a_wide_profile_is_honoured_as_colour_science_computes_it(tmp_path: Path, kind: str) -> None:
    """Adobe RGB (1998), gamma 563/256, to sRGB (IEC 61966-2-1), by the colour-science package on floats."""
    import colour

    values = np.array([(128, 128, 128), (160, 110, 90), (90, 120, 100), (120, 110, 150), (220, 210, 190), (60, 50, 45)])
    wide, narrow = colour.RGB_COLOURSPACES["Adobe RGB (1998)"], colour.RGB_COLOURSPACES["sRGB"]
    expected = 255 * colour.RGB_to_RGB(
        values / 255, wide, narrow, "Bradford", apply_cctf_decoding=True, apply_cctf_encoding=True
    )
    assert expected.min() > 0  # all lie within sRGB,
    assert expected.max() < 255
    assert np.abs(expected - values).max() > 8  # and a profile ignored would be seen
    pixels = np.repeat(np.repeat(values[None].astype(np.uint8), 16, axis=0), 16, axis=1)
    path = tmp_path / f"a.{kind}"
    profile = matrix_profile("Adobe RGB (1998)", 563 / 256)
    if kind == "planar16.tif":
        planes = np.moveaxis(pixels.astype(np.uint16) * 257, 2, 0)
        tifffile.imwrite(path, planes, photometric="rgb", planarconfig="separate", iccprofile=profile)
    else:
        image = Image.fromarray(pixels)
        if kind == "rgba.png":
            image.putalpha(255)
        options = {"jpg": {"quality": 100, "subsampling": 0}, "webp": {"lossless": True}}.get(kind, {})
        image.save(path, icc_profile=profile, **options)
    got = np.asarray(open_picture(path), float)[8, 8::16]
    assert np.abs(got - expected).max() <= (2.5 if kind == "jpg" else 1.5)


def test_lab_pixels_become_the_srgb_of_their_lab(tmp_path: Path) -> None:
    """Red of sRGB in CIELAB under D50 is 54.2905 80.8049 69.8910 (CSS Color 4, sample values)."""
    stored = (round(54.2905 * 2.55), 81, 70)  # L* to 255, a* and b* as signed bytes (TIFF 6.0, section 23)
    tifffile.imwrite(tmp_path / "lab.tif", np.full((8, 8, 3), stored, np.uint8), photometric="cielab")
    assert np.abs(np.subtract(open_picture(tmp_path / "lab.tif").getpixel((2, 2)), (255, 0, 0))).max() <= 6


def test_a_broken_or_foreign_profile_is_taken_for_srgb(tmp_path: Path) -> None:
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    good = matrix_profile("Adobe RGB (1998)", 563 / 256)
    for profile in (b"no profile at all", good[:200], lab, good[:128] + b"\xff" * 400):
        quarters().save(tmp_path / "a.png", icc_profile=profile)
        assert difference(open_picture(tmp_path / "a.png"), quarters()) == 0


def test_an_embedded_srgb_profile_changes_nothing_visible(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    quarters().save(tmp_path / "a.png", icc_profile=profile)
    assert difference(open_picture(tmp_path / "a.png"), quarters()) <= 1


# --- depths and modes ---------------------------------------------------------------------------------------------

RAMP = (np.arange(40 * 60).reshape(40, 60) * 27).astype(np.uint16)
COLOURS = np.random.default_rng(5).integers(0, 65536, (40, 60, 3)).astype(np.uint16)


@pytest.mark.parametrize("byteorder", ["<", ">"])
@pytest.mark.parametrize("photometric", ["minisblack", "miniswhite"])
@pytest.mark.parametrize("compression", [None, "zlib"])
def test_16_bit_grey_tiff(tmp_path: Path, photometric: str, byteorder: str, compression: str | None) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, RAMP, photometric=photometric, byteorder=byteorder, compression=compression)
    expected = RAMP / 257 if photometric == "minisblack" else 255 - RAMP / 257
    got = np.asarray(open_picture(path), float)
    assert np.abs(got - expected[..., None]).max() <= 0.5001
    assert picture_size(path) == (60, 40, "image/tiff")


@pytest.mark.parametrize("byteorder", ["<", ">"])
@pytest.mark.parametrize("planes", ["contig", "separate"])
@pytest.mark.parametrize("compression", [None, "zlib"])
def test_16_bit_colour_tiff_to_within_a_level(tmp_path: Path, planes: str, byteorder: str, compression) -> None:
    path = tmp_path / "a.tif"
    pixels = np.moveaxis(COLOURS, 2, 0) if planes == "separate" else COLOURS
    tifffile.imwrite(path, pixels, photometric="rgb", planarconfig=planes, byteorder=byteorder, compression=compression)
    assert np.abs(np.asarray(open_picture(path), float) - COLOURS / 257).max() < 1
    assert picture_size(path) == (60, 40, "image/tiff")


def test_16_bit_png_and_floating_point_tiff(tmp_path: Path) -> None:
    Image.fromarray(RAMP).save(tmp_path / "a.png")
    assert np.abs(np.asarray(open_picture(tmp_path / "a.png"), float)[..., 0] - RAMP / 257).max() <= 0.5001
    tifffile.imwrite(tmp_path / "f.tif", (COLOURS / 65535).astype(np.float32), photometric="rgb")
    assert np.abs(np.asarray(open_picture(tmp_path / "f.tif"), float) - COLOURS / 257).max() <= 0.51


@pytest.mark.parametrize("kind", ["jpg", "tif"])
def test_cmyk_is_not_turned_round(tmp_path: Path, kind: str) -> None:
    quarters().convert("CMYK").save(tmp_path / f"a.{kind}", **({"quality": 100} if kind == "jpg" else {}))
    assert np.abs(np.subtract(open_picture(tmp_path / f"a.{kind}").getpixel((5, 5)), RED)).max() <= 3
    assert open_picture(tmp_path / f"a.{kind}", longest=20).size == (20, 13)


def test_the_first_frame_of_an_animation_is_taken(tmp_path: Path) -> None:
    first, second = Image.new("RGB", (30, 20), RED), Image.new("RGB", (30, 20), BLUE)
    first.save(tmp_path / "a.gif", save_all=True, append_images=[second])
    first.save(tmp_path / "a.webp", save_all=True, append_images=[second], lossless=True)
    for name in ("a.gif", "a.webp"):
        assert open_picture(tmp_path / name).getpixel((3, 3)) == RED


def test_transparency_lies_on_mid_grey(tmp_path: Path) -> None:
    half = Image.new("RGBA", (8, 8), (*RED, 128))
    half.save(tmp_path / "a.png")
    expected = [round(c * 128 / 255 + g * 127 / 255) for c, g in zip(RED, files.GROUND, strict=True)]
    assert np.abs(np.subtract(open_picture(tmp_path / "a.png").getpixel((2, 2)), expected)).max() <= 1
    clear = Image.new("P", (8, 8), 0)
    clear.putpalette([*RED, *BLUE])
    clear.save(tmp_path / "p.png", transparency=0)
    clear.save(tmp_path / "p.gif", transparency=0)
    Image.new("L", (8, 8), 7).save(tmp_path / "l.png", transparency=7)
    Image.new("LA", (8, 8), (7, 0)).save(tmp_path / "la.png")
    for name in ("p.png", "p.gif", "l.png", "la.png"):
        assert open_picture(tmp_path / name).getpixel((2, 2)) == files.GROUND, name
    assert len(set(files.GROUND)) == 1


def test_one_bit_and_palette(tmp_path: Path) -> None:
    Image.new("1", (8, 8), 1).save(tmp_path / "a.png")
    Image.new("1", (8, 8), 1).save(tmp_path / "a.tif", compression="group4")
    quarters().quantize(4).save(tmp_path / "p.png")
    assert open_picture(tmp_path / "a.png").getpixel((2, 2)) == (255, 255, 255)
    assert open_picture(tmp_path / "a.tif").getpixel((2, 2)) == (255, 255, 255)
    assert difference(open_picture(tmp_path / "p.png"), quarters()) <= 2


def test_the_long_side_is_bounded_and_nothing_is_enlarged(tmp_path: Path) -> None:
    quarters(900, 600).save(tmp_path / "a.jpg", quality=95)
    quarters(900, 600).save(tmp_path / "a.png")
    for name in ("a.jpg", "a.png"):
        assert open_picture(tmp_path / name).size == (900, 600)
        assert open_picture(tmp_path / name, longest=90).size == (90, 60)
        assert open_picture(tmp_path / name, longest=5000).size == (900, 600)
        assert np.abs(np.subtract(open_picture(tmp_path / name, longest=90).getpixel((10, 10)), RED)).max() <= 3


# --- refusals -----------------------------------------------------------------------------------------------------


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_header(width: int, height: int) -> bytes:
    """A PNG that says its size and holds nothing (ISO/IEC 15948, 11.2.2)."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("width", "height"), [(60_000, 60_000), (50_001, 1), (1, 50_001), (20_000, 10_001)])
def test_a_size_out_of_bounds_is_refused_by_the_header(tmp_path: Path, monkeypatch, width: int, height: int) -> None:
    def decode(*_: object) -> None:
        raise AssertionError("it was decoded")

    monkeypatch.setattr(ImageFile.ImageFile, "load", decode)
    path = tmp_path / "a.png"
    path.write_bytes(png_header(width, height))
    for opening in (open_picture, picture_size):
        with pytest.raises(SourceRefused, match=f"{width:,} × {height:,}") as caught:
            opening(path)
        assert caught.value.next_step


def test_sizes_up_to_the_limit_pass_the_header_whatever_pillow_s_own_limit(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    (tmp_path / "a.png").write_bytes(png_header(20_000, 10_000))
    assert picture_size(tmp_path / "a.png") == (20_000, 10_000, "image/png")
    quarters().save(tmp_path / "b.png")
    assert open_picture(tmp_path / "b.png").size == (60, 40)


def test_a_big_tiff_header_is_refused_too(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, np.zeros((4, 4), np.uint8), photometric="minisblack")
    with tifffile.TiffFile(path, mode="r+b") as tiff:
        for name in ("ImageWidth", "ImageLength"):
            tiff.pages[0].tags[name].overwrite(49_999)
    with pytest.raises(SourceRefused, match="49,999"):
        open_picture(path)


@pytest.mark.parametrize("longest", [None, 50])
@pytest.mark.parametrize("kind", ["jpg", "png", "gif", "webp", "tif", "lzw.tif", "heic"])
def test_a_file_cut_short_is_refused(tmp_path: Path, kind: str, longest: int | None) -> None:
    ImageFile.LOAD_TRUNCATED_IMAGES = True  # as another package may have left it
    try:
        noise = Image.fromarray(np.random.default_rng(1).integers(0, 255, (200, 300, 3), dtype=np.uint8))
        path = tmp_path / f"a.{kind}"
        if kind == "heic":
            pillow_heif.from_pillow(noise).save(path)
        else:
            noise.save(path, **({"compression": "tiff_lzw"} if kind == "lzw.tif" else {}))
        whole = path.read_bytes()
        for part in (0.9, 0.5, 0.1):
            path.write_bytes(whole[: int(len(whole) * part)])
            with pytest.raises(SourceRefused) as caught:
                open_picture(path, longest)
            assert caught.value.next_step
            assert str(tmp_path) not in str(caught.value)
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = False


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"hello",
        b"\xff\xd8\xff" + b"a" * 100,
        b"\x89PNG\r\n\x1a\n",
        b"\x89PNG\r\n\x1a\n" + b"\0" * 100,
        b"GIF89a",
        b"II*\x00" + b"\xff" * 100,
        b"MM\x00*\0\0\0\x08\0\0",
        b"RIFF\x10\0\0\0WEBPVP8 ",
        b"\0\0\0\x18ftypheic" + b"\xff" * 100,
        b"%PDF-1.7",
        b"%!PS-Adobe-3.0 EPSF-3.0",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    ],
)
def test_what_is_no_picture_is_refused_in_one_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a\n\"'\u202e.jpg"
    path.write_bytes(content)
    for opening in (open_picture, picture_size):
        with pytest.raises(SourceRefused) as caught:
            opening(path)
        assert caught.value.next_step
        assert "\n" not in caught.value.problem
        assert "\u202e" not in caught.value.problem


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    for path in (tmp_path, tmp_path / "nothing.jpg", tmp_path / "pipe.jpg", Path("/dev/zero")):
        for reading in (open_picture, picture_size, hash_of):
            with pytest.raises(SourceRefused):
                reading(path)


def test_content_decides_and_not_the_name(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    for kind in ("PNG", "GIF", "WEBP", "TIFF", "JPEG"):
        media_type = f"image/{kind.lower()}"
        quarters().save(path, format=kind)
        assert sniff(path) == media_type
        assert picture_size(path) == (60, 40, media_type)
    path.write_text("words")
    assert sniff(path) == ""


def test_pictures_open_in_a_fresh_interpreter(tmp_path: Path) -> None:
    """Whatever else has loaded which decoders: nothing here may depend on it."""
    import subprocess
    import sys

    for kind in ("png", "gif", "webp", "tif", "jpg"):
        quarters().save(tmp_path / f"a.{kind}")
    pillow_heif.from_pillow(quarters()).save(tmp_path / "a.heic")
    script = (
        "import sys, pathlib\nfrom refarchive.records.files import open_picture\n"
        "for p in sorted(pathlib.Path(sys.argv[1]).iterdir()): print(p.suffix, open_picture(p).size)"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split("\n")[:-1] == [f".{k} (60, 40)" for k in ("gif", "heic", "jpg", "png", "tif", "webp")]


def test_decoders_warnings_stay_in_and_filters_come_back_with_many_threads(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    quarters().save(path)
    damaged = bytearray(path.read_bytes())
    damaged += b"\0" * 10
    path.write_bytes(damaged)
    clear = Image.new("P", (300, 200), 0)
    clear.save(tmp_path / "p.png", transparency=b"\x00\x80")  # Pillow warns of palettes with such transparency
    before = list(warnings.filters)
    failures: list[BaseException] = []

    def work() -> None:
        try:
            for _ in range(10):
                open_picture(tmp_path / "p.png", longest=20)
                open_picture(path)
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert warnings.filters == before


# --- keeping ------------------------------------------------------------------------------------------------------

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"  # SHA-256 of "abc", FIPS 180-2, B.1


def test_an_original_is_kept_by_digest_untouched_and_read_only(tmp_path: Path) -> None:
    source = tmp_path / "\u202eevil\n../../name.exe".replace("/", "_")
    source.write_bytes(b"abc")
    (tmp_path / "archive").mkdir()
    kept = Files(tmp_path / "archive").keep(source, "text/plain")
    assert (kept.sha256, kept.suffix, kept.size) == (ABC, ".txt", 3)
    path = Files(tmp_path / "archive").original(kept.sha256, kept.suffix)
    assert path == tmp_path / "archive" / "originals" / "ba" / f"{ABC}.txt"
    assert path.read_bytes() == b"abc"
    assert stat.S_IMODE(path.stat().st_mode) == 0o444
    assert [p.name for p in (tmp_path / "archive" / "originals").iterdir()] == ["ba"]
    assert source.read_bytes() == b"abc"
    assert hash_of(source) == ABC


def test_an_original_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    store = Files(tmp_path)
    kept = store.keep(tmp_path / "a", "text/plain")
    path = store.original(kept.sha256, kept.suffix)
    before = path.stat()
    assert store.keep(tmp_path / "a", "text/plain") == kept
    assert (path.stat().st_ino, path.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert len(list((tmp_path / "originals").rglob("*"))) == 2


def test_what_cannot_be_kept_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Files(tmp_path)
    with pytest.raises(SourceRefused):
        store.keep(tmp_path / "nothing", "image/png")
    (tmp_path / "a").write_bytes(b"abc")
    with pytest.raises(SourceRefused):
        store.keep(tmp_path / "a", "application/x-unknown")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ArchiveUnwritable, match="No space left"):
        store.keep(tmp_path / "a", "text/plain")
    assert list((tmp_path / "originals").iterdir()) == []


@pytest.mark.parametrize("digest", ["", "../../etc/passwd", "g" * 64, "A" * 64, "a" * 63, "a" * 65, "a" * 64 + "\n"])
def test_a_digest_that_is_none_leads_nowhere(tmp_path: Path, digest: str) -> None:
    store = Files(tmp_path)
    for asking in (lambda: store.original(digest, ".jpg"), lambda: store.preview(digest)):
        with pytest.raises(ArchiveDamaged):
            asking()
    for suffix in ("", "/../x", ".exe", ".jpg/..", ".JPG"):
        with pytest.raises(ArchiveDamaged):
            store.original(ABC, suffix)


def test_a_preview_is_a_bounded_jpeg_of_the_same_colours(tmp_path: Path) -> None:
    store = Files(tmp_path)
    path = store.write_preview(ABC, quarters(3200, 2000))
    assert path == store.preview(ABC) == tmp_path / "previews" / "ba" / f"{ABC}.jpg"
    with Image.open(path) as image:
        assert (image.format, image.size, image.mode) == ("JPEG", (1600, 1000), "RGB")
    assert np.abs(np.subtract(open_picture(path).getpixel((100, 100)), RED)).max() <= 3
    store.write_preview(ABC, quarters(30, 20))
    assert picture_size(path) == (30, 20, "image/jpeg")
    assert len(list(path.parent.iterdir())) == 1
    assert path.stat().st_mode & 0o044 == 0o044


def test_a_preview_that_fails_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Files(tmp_path)
    path = store.write_preview(ABC, quarters())
    before = path.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Image.Image, "save", full)
    with pytest.raises(ArchiveUnwritable):
        store.write_preview(ABC, quarters())
    assert path.read_bytes() == before
    assert len(list(path.parent.iterdir())) == 1


def test_what_a_killed_run_left_is_swept_when_it_is_old(tmp_path: Path) -> None:
    store = Files(tmp_path)
    (tmp_path / "a").write_bytes(b"abc")
    kept = store.keep(tmp_path / "a", "text/plain")
    store.write_preview(ABC, quarters())
    left = [tmp_path / "originals" / ".taking-x", tmp_path / "previews" / "ba" / ".making-x"]
    fresh = tmp_path / "originals" / ".taking-y"
    for path in (*left, fresh):
        path.write_bytes(b"half")
    with store.aside() as folder:
        (folder / "page.png").write_bytes(b"half")
        left.append(folder.rename(tmp_path / "originals" / ".taking-z"))
    for path in left:
        os.utime(path, (time.time() - 3700,) * 2)
    os.utime(store.original(kept.sha256, kept.suffix), (0, 0))
    assert store.sweep() == 3
    assert not any(path.exists() for path in left)
    assert fresh.exists()
    assert store.original(kept.sha256, kept.suffix).exists()
    assert store.preview(ABC).exists()


@pytest.mark.parametrize("size", [(400, 300), (300, 400), (400, 100)])
def test_a_jpeg_is_decoded_at_reduced_size_whatever_its_shape(tmp_path, monkeypatch, size):
    from PIL.JpegImagePlugin import JpegImageFile

    path = tmp_path / "a.jpg"
    Image.effect_noise(size, 40).convert("RGB").save(path, quality=95)
    decoded = []
    load = JpegImageFile.load

    def seen(image):
        decoded.append(image.size)
        return load(image)

    monkeypatch.setattr(JpegImageFile, "load", seen)
    assert max(open_picture(path, longest=160).size) == 160
    assert decoded[0] == (size[0] // 2, size[1] // 2)  # the next step, a quarter, would be less than was asked for
    decoded.clear()
    assert open_picture(path, longest=5000).size == size
    assert decoded[0] == size
