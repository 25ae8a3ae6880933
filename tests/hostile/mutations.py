"""Cases made of good seeds: bytes changed without knowing the format, and values changed in a format that is known.

Everything follows from one `random.Random`, so that a case is the same whenever it is asked for by its number.
"""

from __future__ import annotations

import json
import random
import re
import struct
from collections.abc import Sequence
from typing import Any

LONGEST = 300_000  # bytes of a case
NUMBERS = (0, 1, -1, 2, 7, 8, 127, 128, 255, 256, 32767, 32768, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1, 2**63, 2**64)

# Texts that have broken programs: markup, formulas, paths, controls, halves of pairs, digits of other scripts.
HOSTILE_TEXTS = (
    "", " ", "\0", "\x1b[31m", "\x7f", "\ufeff", "\u202egnp.exe", "\u2066x\u2069", "\ud800", "\udfff\ud800", "\U0010ffff",  # noqa: E501
    "\u2028", "e\u0301" * 50, "<script>alert(1)</script>", '"]]><x/>', "</style><script>", "#import \"/etc/passwd\"",
    "#{1}$x$\\u{41}", "{{7*7}}", "{%x%}", "=1+1", "+1", "-1", "@x", "'=1", "\t=1", "../../etc/passwd", "..\\..\\x",
    "/etc/passwd", "C:\\x", "\\\\host\\x", "CON", "nul.txt", "x.", "%00", "%s%n", "%2e%2e/", "file:///etc/passwd",
    "http://127.0.0.1:9/x", "http://[", "http://\u2100", "a" * 10_000, "٣", "²", "１８７１", "1e999", "-1e999", "nan", "inf",  # noqa: E501
    "9" * 5_000, "0x" + "f" * 5_000, "1_000", "0" * 400, "1871-02-30", "XXXX-XX-XX", "Y-17E7", "[1871..]", "{..1871}",
    "1871/", "../1871", "?", "~", "%", "'", '"', '"""', "\\", "\\u0000", "\r", "\r\n", "\n\n\n", "\t", ";", ",", "[" * 200,  # noqa: E501
    "(" * 200, "{" * 200, "[[" * 100, "xywh=0,0,1e9,1", "xywh=percent:0,0,100,100", "ref-000000000000", "__proto__",
)  # fmt: skip


def case(rng: random.Random, seeds: Sequence[bytes], words: Sequence[bytes] = ()) -> bytes:
    """A seed with one to eight changes of its bytes."""
    data = bytearray(rng.choice(seeds))
    for _ in range(rng.choice((1, 1, 2, 2, 3, 4, 8))):
        _change(rng, data, seeds, words)
        del data[LONGEST:]
    return bytes(data)


def _change(rng: random.Random, data: bytearray, seeds: Sequence[bytes], words: Sequence[bytes]) -> None:
    at = rng.randrange(len(data) + 1)
    if rng.random() < 0.3:
        at = min(at, rng.randrange(256))  # heads decide
    to = min(len(data), at + rng.choice((1, 2, 4, 8, 16, 64, 1024)))
    how = rng.randrange(12)
    if how == 0 and at < len(data):
        data[at] ^= 1 << rng.randrange(8)
    elif how == 1 and at < len(data):
        data[at] = rng.choice((0, 1, 0x20, 0x22, 0x7F, 0x80, 0xC0, 0xE2, 0xFE, 0xFF, rng.randrange(256)))
    elif how == 2:
        del data[at:to]
    elif how == 3:
        data[at:at] = data[at:to] * rng.choice((1, 2, 8, 64))
    elif how == 4:
        del data[at:]
    elif how == 5:
        data[at:at] = rng.randbytes(rng.choice((1, 2, 4, 16, 200)))
    elif how == 6:
        other = rng.choice(seeds)
        start = rng.randrange(len(other) + 1)
        data[at:to] = other[start : start + rng.choice((4, 16, 64, 1024))]
    elif how == 7 and words:
        data[at : at if rng.random() < 0.5 else to] = rng.choice(words)
    elif how == 8:
        code, size = rng.choice((("<H", 2), (">H", 2), ("<I", 4), (">I", 4), ("<Q", 8), (">Q", 8)))
        data[at : at + size] = struct.pack(code, rng.choice(NUMBERS) % 256**size)
    elif how == 9:
        found = list(re.finditer(rb"[0-9]+", bytes(data[at : at + 4096])))
        if found:
            one = rng.choice(found)
            data[at + one.start() : at + one.end()] = rng.choice(
                (b"0", b"-1", b"1e999", b"9" * 30, b"9" * 5000, b"nan")
            )
    elif how == 10:
        data[at:to] = rng.choice(HOSTILE_TEXTS).encode("utf-8", "surrogatepass")
    elif data:
        one, other = rng.randrange(len(data)), rng.randrange(len(data))
        data[one], data[other] = data[other], data[one]


# --- formats that are known -----------------------------------------------------------------------------------------


def hostile_value(rng: random.Random, depth: int = 0) -> Any:
    """A value of JSON or TOML where another kind, size or text was awaited."""
    kind = rng.randrange(9 if depth < 3 else 6)
    if kind <= 2:
        return rng.choice(HOSTILE_TEXTS)
    if kind == 3:
        return rng.choice((*NUMBERS, 10**400))
    if kind == 4:
        return rng.choice((0.5, -0.0, 1e308, -1e308, float("nan"), float("inf"), float("-inf"), 1e-320))
    if kind == 5:
        return rng.choice((True, False, None))
    if kind == 6:
        return [hostile_value(rng, depth + 1) for _ in range(rng.choice((0, 1, 2, 5, 600 if depth == 0 else 3)))]
    if kind == 7:
        return {rng.choice(HOSTILE_TEXTS): hostile_value(rng, depth + 1) for _ in range(rng.choice((0, 1, 3)))}
    nested: Any = 1
    for _ in range(rng.choice((5, 59, 60, 61, 200))):
        nested = [nested] if rng.random() < 0.5 else {"items": nested}
    return nested


def changed(rng: random.Random, value: Any) -> Any:
    """A document with some of its values changed for hostile ones, taken out, doubled, or put elsewhere."""
    places: list[tuple[Any, Any]] = []
    copy = _copied(value, places)
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        if not places:
            return hostile_value(rng)
        holder, key = rng.choice(places)
        try:
            how = rng.randrange(5)
            if how <= 1:
                holder[key] = hostile_value(rng)
            elif how == 2:
                del holder[key]
            elif how == 3 and isinstance(holder, list):
                holder += [holder[key]] * rng.choice((1, 3, 30))
            else:
                there, other = rng.choice(places)
                holder[key] = json.loads(json.dumps(there[other]))
        except (KeyError, IndexError, RecursionError, ValueError):
            continue
    return copy


def _copied(value: Any, places: list[tuple[Any, Any]]) -> Any:
    made: Any
    if isinstance(value, dict):
        made = {}
        for key, inner in value.items():
            made[key] = _copied(inner, places)
            places.append((made, key))
        return made
    if isinstance(value, list):
        made = []
        for number, inner in enumerate(value):
            made.append(_copied(inner, places))
            places.append((made, number))
        return made
    return value


def json_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """JSON that is well formed (NaN and lone surrogates aside) and says something else."""
    try:
        return json.dumps(changed(rng, json.loads(rng.choice(seeds))), ensure_ascii=rng.random() < 0.5).encode(
            "utf-8", "surrogatepass"
        )
    except (RecursionError, ValueError):
        return b"[]"


def toml_value(rng: random.Random) -> str:
    """A value as TOML writes it, awaited or not."""
    if rng.random() < 0.6:
        return rng.choice(
            (
                "nan", "inf", "-inf", "1e400", "9" * 4000, "9" * 4400, "-" + "9" * 4400, "0x" + "f" * 4000, "0o7", "1979-05-27",  # noqa: E501
                "1979-05-27T07:32:00Z", "07:32:00", "9999-99-99", "true", "[]", "{}", "[[]]", "[nan, nan]", "[1, 2, 3]", '""',  # noqa: E501
                "[1e400, 0]", "[{}]", '["a", 1]', "{a = 1}", "[" * 100 + "]" * 100, "-0.0", "1_0", "0", "-1", "1e-400",
                "[0x" + "f" * 4000 + ", 1]", "[true, false]",
            )
        )  # fmt: skip
    return json.dumps(rng.choice(HOSTILE_TEXTS), ensure_ascii=True)


def toml_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A plan in which values are others, and lines are taken out, doubled or moved."""
    lines = rng.choice(seeds).decode().splitlines()
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        at = rng.randrange(len(lines))
        how = rng.randrange(6)
        name, equals, _ = lines[at].partition("=")
        if how <= 2 and equals:
            lines[at] = f"{name}= {toml_value(rng)}"
        elif how == 3:
            del lines[at]
        elif how == 4:
            lines.insert(rng.randrange(len(lines)), lines[at])
        else:
            lines.insert(at, f"{rng.choice(('x', 'position', 'note', 'date', 'region', 'id', '[scene]', '[[need]]'))}"
                             f" = {toml_value(rng)}")  # fmt: skip
        if not lines:
            break
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def csv_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A sheet in which cells, separators and quotation marks are others."""
    rows = [line.split(",") for line in rng.choice(seeds).decode("utf-8", "replace").splitlines()]
    for _ in range(rng.choice((1, 2, 3, 6))):
        row = rng.choice(rows)
        at = rng.randrange(len(row))
        text = rng.choice(HOSTILE_TEXTS)
        how = rng.randrange(6)
        if how <= 1:
            row[at] = text
        elif how == 2:
            row[at] = '"' + text.replace('"', '""') + '"'
        elif how == 3:
            row.insert(at, text)
        elif how == 4 and len(row) > 1:
            del row[at]
        else:
            rows.insert(rng.randrange(len(rows)), list(row))
    separator = rng.choice((",", ",", ";", "\t"))
    end = rng.choice(("\n", "\r\n", "\r"))
    text = end.join(separator.join(row) for row in rows)
    return text.encode(rng.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252")), "replace")


def line_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A short text put together of pieces of others."""
    pieces = [rng.choice(seeds).decode("utf-8", "replace")]
    if rng.random() < 0.3:
        pieces.append(rng.choice(HOSTILE_TEXTS))
    for _ in range(rng.choice((0, 1, 1, 2, 5))):
        whole = rng.choice(seeds).decode("utf-8", "replace")
        a, b = sorted((rng.randrange(len(whole) + 1), rng.randrange(len(whole) + 1)))
        pieces.append(whole[a:b])
    rng.shuffle(pieces)
    return rng.choice(("", " ", "/", "-", "..")).join(pieces).encode("utf-8", "surrogatepass")
