"""What is kept of a picture so that its copies can be found: hashes, local features, a few colours.

Two sets of local features are taken: of the tones, which survive fading, recolouring, cutting, turning and
recompression; and of the edges, which survive more, since an engraving after a photograph keeps where the lines run and
loses the tones. The features of a mirrored picture follow from those of the picture, so they are not kept.

A picture is as in `colour`: (H, W, 3), uint8 or float in 0–1, sRGB, upright. Nothing is random: the same picture gives
the same signature.

Sources: Lowe 2004 (SIFT); Arandjelović & Zisserman 2012 (square-rooted features).
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import alike, colour

SIGNATURE_VERSION = 1  # in the bytes; a cache of another version is refused and must be made anew
TONE_PIXELS, TONE_FEATURES = 512, 400  # longer side looked at, strongest features kept
EDGE_PIXELS, EDGE_FEATURES = 384, 300
COLOUR_CELLS = 24  # along each side
BLANK_SPREAD = 3.0  # standard deviation of 8-bit luma below which a picture is too even to compare

# The features of a mirrored picture are those of the picture with the rows of cells and the sense of turning reversed.
_MIRROR = np.array([(3 - r) * 32 + c * 8 + (-o) % 8 for r in range(4) for c in range(4) for o in range(8)])

_MARK = b"RASG"
_HEAD = "<4sHII4QHH"


@dataclass(frozen=True, eq=False)
class Features:
    """Local features, strongest first: points (N, 2) uint16, x and y as fractions of 65535; values (N, 128) uint8."""

    points: NDArray[np.uint16]
    values: NDArray[np.uint8]

    def unit(self, mirrored: bool = False) -> NDArray[np.float32]:
        """The features as unit-length rows; those of the mirror on demand."""
        rows = self.values[:, _MIRROR if mirrored else slice(None)].astype(np.float32)
        length = np.linalg.norm(rows, axis=1, keepdims=True)
        return np.asarray(rows / np.maximum(length, 1.0), dtype=np.float32)

    def places(self, size: tuple[float, float], mirrored: bool = False) -> NDArray[np.float32]:
        """Points in a frame of this width and height."""
        fractions = self.points.astype(np.float32) / 65535.0
        if mirrored:
            fractions[:, 0] = 1.0 - fractions[:, 0]
        return np.asarray(fractions * np.array(size, dtype=np.float32), dtype=np.float32)


@dataclass(frozen=True, eq=False)
class Signature:
    """All that is kept of a picture to find its copies.

    width, height: of the picture, pixels. frequency, difference: 64-bit hashes (`alike`); mirrored_frequency,
    mirrored_difference: those of its mirror. tones, edges: local features. colours: (24, 24, 3) uint8, the picture
    stretched to a square, area-averaged.
    """

    width: int
    height: int
    frequency: int
    difference: int
    mirrored_frequency: int
    mirrored_difference: int
    tones: Features
    edges: Features
    colours: NDArray[np.uint8]

    @property
    def aspect(self) -> float:
        """Width over height."""
        return self.width / self.height

    @property
    def blank(self) -> bool:
        """Whether the picture is too even to be told from others."""
        return float((self.colours @ np.array([0.299, 0.587, 0.114])).std()) < BLANK_SPREAD

    def frame(self, longer: int) -> tuple[float, float]:
        """Width and height with the longer side so long."""
        scale = longer / max(self.width, self.height)
        return self.width * scale, self.height * scale

    def to_bytes(self) -> bytes:
        """Bytes that `from_bytes` reads, some 60–80 kB for a picture full of detail."""
        head = struct.pack(
            _HEAD,
            _MARK,
            SIGNATURE_VERSION,
            self.width,
            self.height,
            self.frequency,
            self.difference,
            self.mirrored_frequency,
            self.mirrored_difference,
            len(self.tones.points),
            len(self.edges.points),
        )
        head += struct.pack("<I", zlib.crc32(head))
        arrays = (self.tones.points, self.tones.values, self.edges.points, self.edges.values, self.colours)
        body = b"".join(np.ascontiguousarray(a, dtype=a.dtype.newbyteorder("<")).tobytes() for a in arrays)
        return head + zlib.compress(body, 6)

    @classmethod
    def from_bytes(cls, data: bytes) -> Signature:
        """The signature that these bytes hold.

        Raises
        ------
        CannotMeasure
            where they are no signature, cut short, or of another version.
        """
        again = "Have the picture measured again."
        size = struct.calcsize(_HEAD) + 4
        if len(data) < size or data[:4] != _MARK:
            raise CannotMeasure("These bytes are no picture signature.", again)
        _, version, width, height, f, d, mirrored_f, mirrored_d, tones, edges = struct.unpack(_HEAD, data[: size - 4])
        if version != SIGNATURE_VERSION:
            raise CannotMeasure(f"The picture signature is of version {version}, not {SIGNATURE_VERSION}.", again)
        if zlib.crc32(data[: size - 4]) != struct.unpack("<I", data[size - 4 : size])[0]:
            raise CannotMeasure("The picture signature is damaged.", again)
        length = 132 * (tones + edges) + 3 * COLOUR_CELLS**2
        try:
            reader = zlib.decompressobj()
            body = reader.decompress(data[size:], length + 1)  # never more than was announced
        except zlib.error as error:
            raise CannotMeasure("The picture signature is damaged.", again) from error
        if len(body) != length or not reader.eof or reader.unused_data or min(width, height) < 1:
            raise CannotMeasure("The picture signature is damaged.", again)
        at = 0
        found = []
        for count in (tones, edges):
            points = np.frombuffer(body, "<u2", 2 * count, at).reshape(count, 2).astype(np.uint16)
            values = np.frombuffer(body, np.uint8, 128 * count, at + 4 * count).reshape(count, 128)
            found.append(Features(points, values))
            at += 132 * count
        colours = np.frombuffer(body, np.uint8, -1, at).reshape(COLOUR_CELLS, COLOUR_CELLS, 3)
        return cls(width, height, f, d, mirrored_f, mirrored_d, found[0], found[1], colours)


def signature(picture: ArrayLike) -> Signature:
    """What is kept of a picture to find its copies; about a tenth of a second.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    from PIL import Image

    array = colour.check_picture(picture)
    if array.dtype != np.uint8:
        colour.linear(array)  # refuses values outside 0–1
        array = np.rint(array * 255.0).astype(np.uint8)
    image = Image.fromarray(np.ascontiguousarray(array))
    width, height = image.size
    reduced = image.copy()
    reduced.thumbnail((1024, 1024), Image.Resampling.LANCZOS)
    upright = np.asarray(reduced.resize((64, 64), Image.Resampling.BOX))  # hashes look at 32 × 32 cells at most
    mirror = upright[:, ::-1]
    grey = _fitted(reduced.convert("L"), TONE_PIXELS)
    lines = alike.edge_map(_fitted(reduced.convert("L"), EDGE_PIXELS))
    return Signature(
        width=width,
        height=height,
        frequency=alike.frequency_hash(upright),
        difference=alike.difference_hash(upright),
        mirrored_frequency=alike.frequency_hash(mirror),
        mirrored_difference=alike.difference_hash(mirror),
        tones=_features(grey, TONE_FEATURES),
        edges=_features(lines, EDGE_FEATURES),
        colours=np.asarray(image.resize((COLOUR_CELLS, COLOUR_CELLS), Image.Resampling.BOX)),
    )


def _fitted(image: Any, longer: int) -> NDArray[np.uint8]:
    """The grey picture with its longer side at most so long."""
    from PIL import Image

    copy = image.copy()
    copy.thumbnail((longer, longer), Image.Resampling.LANCZOS)
    return np.asarray(copy)


def _features(grey: NDArray[np.uint8], most: int) -> Features:
    import cv2

    height, width = grey.shape
    # The stubs of one version leave this out; it stands in all.
    finder: Any = cv2.SIFT_create(most, contrastThreshold=0.02)  # type: ignore[attr-defined,unused-ignore]
    keys, values = finder.detectAndCompute(grey, None)
    if values is None or not len(keys):
        return Features(np.zeros((0, 2), np.uint16), np.zeros((0, 128), np.uint8))
    strength = np.array([key.response for key in keys])
    strongest = np.argsort(-strength, kind="stable")[:most]
    # A feature's point counts from the centre of the first pixel; fractions count from its edge.
    points = (np.array([key.pt for key in keys], dtype=np.float64)[strongest] + 0.5) / np.array([width, height])
    rows = values[strongest].astype(np.float64)
    rooted = np.sqrt(rows / np.maximum(rows.sum(axis=1, keepdims=True), 1.0))
    return Features(
        np.rint(np.clip(points, 0, 1) * 65535).astype(np.uint16),
        np.rint(np.clip(rooted * 510.0, 0, 255)).astype(np.uint8),
    )
