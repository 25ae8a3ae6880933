"""An ICC display profile of any colour space that colour-science holds, written tag by tag."""

from __future__ import annotations

import struct

import numpy as np


def matrix_profile(name: str, gamma: float) -> bytes:
    """An ICC version 2 display profile (as ICC.1:2001-04 lays it out) of a colour space that colour-science holds."""
    import colour

    space = colour.RGB_COLOURSPACES[name]
    white = colour.xy_to_XYZ(space.whitepoint)
    d50 = np.array([0.9642, 1.0, 0.8249])
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, d50, transform="Bradford")
    columns = (adapt @ space.matrix_RGB_to_XYZ).T

    def xyz(values: np.ndarray) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    said = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + bytes(78 + 1)
    tags = {
        b"desc": said, b"cprt": b"text\0\0\0\0none\0\0\0\0", b"wtpt": xyz(d50), b"rXYZ": xyz(columns[0]),
        b"gXYZ": xyz(columns[1]), b"bXYZ": xyz(columns[2]), b"rTRC": curve, b"gTRC": curve, b"bTRC": curve,
    }  # fmt: skip
    table, body, at = b"", b"", 128 + 4 + 12 * len(tags)
    for signature, data in tags.items():
        data += bytes(-len(data) % 4)
        table += signature + struct.pack(">II", at + len(body), len(data))
        body += data
    head = struct.pack(">I4sI4s4s4s", at + len(body), bytes(4), 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28) + xyz(d50)[8:] + bytes(48)
    return head + struct.pack(">I", len(tags)) + table + body
