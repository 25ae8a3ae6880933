"""Cases made of good seeds: bytes changed without knowing the format, and values changed in a format that is known.

Everything follows from one `random.Random`, so that a case is the same whenever it is asked for by its number.
"""

# ruff: noqa: E501 (tables of hostile values)
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
    "", " ", "\0", "\x1b[31m", "\x7f", "\ufeff", "\u202egnp.exe", "\u2066x\u2069", "\ud800", "\udfff\ud800", "\U0010ffff",
    "\u2028", "e\u0301" * 50, "<script>alert(1)</script>", '"]]><x/>', "</style><script>", "#import \"/etc/passwd\"",
    "#{1}$x$\\u{41}", "{{7*7}}", "{%x%}", "=1+1", "+1", "-1", "@x", "'=1", "\t=1", "../../etc/passwd", "..\\..\\x",
    "/etc/passwd", "C:\\x", "\\\\host\\x", "CON", "nul.txt", "x.", "%00", "%s%n", "%2e%2e/", "file:///etc/passwd",
    "http://127.0.0.1:9/x", "http://[", "http://\u2100", "a" * 10_000, "٣", "²", "１８７１", "1e999", "-1e999", "nan", "inf",
    "9" * 5_000, "0x" + "f" * 5_000, "1_000", "0" * 400, "1871-02-30", "XXXX-XX-XX", "Y-17E7", "[1871..]", "{..1871}",
    "1871/", "../1871", "?", "~", "%", "'", '"', '"""', "\\", "\\u0000", "\r", "\r\n", "\n\n\n", "\t", ";", ",", "[" * 200,
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
                "nan", "inf", "-inf", "1e400", "9" * 4000, "9" * 4400, "-" + "9" * 4400, "0x" + "f" * 4000, "0o7", "1979-05-27",
                "1979-05-27T07:32:00Z", "07:32:00", "9999-99-99", "true", "[]", "{}", "[[]]", "[nan, nan]", "[1, 2, 3]", '""',
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


def mild_toml_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A plan that is in order but for one or two values, which are of the kind that was there: read to its end."""
    lines = rng.choice(seeds).decode().splitlines()
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(lines))
        name, equals, value = lines[at].partition("=")
        told = value.strip()
        if not equals:
            continue
        if told[:1] == '"' and told[-1:] == '"':
            other = (
                rng.choice(HOSTILE_TEXTS) if rng.random() < 0.4 else rng.choice(("1871", "186X", "c. 1870", "cart", ""))
            )
            lines[at] = f"{name}= {json.dumps(other[:300], ensure_ascii=True)}"
        elif re.fullmatch(r"-?[0-9.]+", told):
            lines[at] = f"{name}= {rng.choice(('0', '1', '0.5', '-1', '89.9', '180', '360', '1e6', '12', '50'))}"
        elif told in ("true", "false"):
            lines[at] = f"{name}= {rng.choice(('true', 'false'))}"
        elif re.fullmatch(r"\[[-0-9., ]+\]", told):
            lines[at] = f"{name}= [{', '.join(rng.choice(('0', '0.1', '0.5', '1', '2.5')) for _ in told.split(','))}]"
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def date_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A date put together as EDTF or plain words put one together, its parts within or just outside their ranges."""

    def some(usual: str, odd: str) -> str:
        """One of the usual, seldom one that is out of range or of another kind."""
        return rng.choice((odd if rng.random() < 0.06 else usual).split())

    def point() -> str:
        text = some("1871 1900 1583 0044 -0043 2026 1999", "0000 Y-17E7 Y170000002 1871S2 9999 186X 18XX 871")
        if rng.random() < 0.6:
            text += f"-{some('01 02 06 10 12', '21 24 41 13 00 XX 1X')}"
            if rng.random() < 0.6:
                text += f"-{some('01 10 27 28', '29 30 31 32 XX 2X 00')}"
        return text + rng.choice(("", "", "", "?", "~", "%"))

    def words() -> str:
        month = some("February Feb September May", "Feb. month")
        day, other = some("3 9 28 3rd 1st", "29 30 31 32 0"), some("10 11 12", "2 31")
        year_ = some("1871 1900 1815", "1731/2 1715/16 1582 71 870 44")
        return rng.choice((
            f"{day} {month} {year_}", f"{month} {day}, {year_}", f"{day}–{other} {month} {year_}", f"c. {year_}", f"{month} {year_}",
            f"the night of {day} {month} {year_}", f"between {month} 1869 and {month} {year_}", f"before {year_}", f"after {day} {month} {year_}",
            f"{rng.choice(('early', 'mid', 'late'))} {rng.choice(('1780s', '18th century', month + ' 1871', '1870'))}",
            f"{rng.choice(('first', 'second', 'last'))} {rng.choice(('half', 'quarter', 'third'))} of the {rng.choice(('19th', '1st', '21st'))} century",
            f"{rng.choice(('Michaelmas', 'Lady Day', 'Candlemas', 'Easter', 'Whitsun', 'Midsummer'))} {year_}", f"winter {year_}",
            f"{day} {month} {year_} (Julian)", f"{day} {month}/{other} {month} {year_}", f"{year_} or later", f"probably {year_}",
            f"{year_}–{rng.choice(('72', '1875', '5'))}", f"{day}.{other}.{year_}", f"{day}/{other}/{year_}",
        ))  # fmt: skip

    text = rng.choice((
        point, words, words, lambda: f"{point()}/{point()}", lambda: f"[{point()},{point()}..{point()}]",
        lambda: f"{{{point()},{point()}}}", lambda: f"{rng.choice(('..', '', point()))}/{rng.choice(('..', '', point()))}",
    ))()  # fmt: skip
    if rng.random() < 0.15:
        at = rng.randrange(len(text) + 1)
        text = text[:at] + rng.choice(HOSTILE_TEXTS)[:40] + text[at:]
    return text.encode("utf-8", "surrogatepass")


def tail_case(rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """A TIFF with values of one or two tags changed, each within what its tag may hold, and little else."""
    data = bytearray(rng.choice(seeds))
    order = "<" if data[:2] == b"II" else ">"
    if data[2:4] not in (b"*\0", b"\0*") or len(data) < 16:
        return case(rng, seeds)
    (at,) = struct.unpack_from(f"{order}I", data, 4)
    if at + 2 > len(data):
        return case(rng, seeds)
    (count,) = struct.unpack_from(f"{order}H", data, at)
    likely = {
        256: (1, 16, 31, 33, 64, 4000), 257: (1, 23, 24, 25, 64, 4000), 258: (8, 16, 32, 64), 259: (1, 5, 8, 32773, 34925),
        262: (0, 1, 2, 5, 6), 274: (1, 3, 6, 8, 9), 277: (1, 2, 3, 4, 5), 278: (1, 5, 24, 2**31), 284: (1, 2), 317: (1, 2, 3),
        322: (16, 32, 0), 323: (16, 32), 338: (0, 1, 2), 339: (1, 2, 3, 4, 5, 6),
    }  # fmt: skip
    for _ in range(rng.choice((1, 1, 2, 3))):
        entry = at + 2 + 12 * rng.randrange(max(1, count))
        if entry + 12 > len(data):
            continue
        tag, kind, number = struct.unpack_from(f"{order}HHI", data, entry)
        value = rng.choice(likely.get(tag, NUMBERS)) % 2**32
        where = entry + 8
        if kind == 3 and number > 2:  # the values lie elsewhere
            (where,) = struct.unpack_from(f"{order}I", data, entry + 8)
        if where + 4 <= len(data):
            struct.pack_into(
                f"{order}{'H' if kind == 3 else 'I'}", data, where, value % (65536 if kind == 3 else 2**32)
            )
    if rng.random() < 0.3 and len(data) > 400:
        start = rng.randrange(200, len(data))
        data[start : start + 4] = rng.choice(
            (b"\0\0\xc0\x7f", b"\0\0\x80\x7f", b"\xff" * 4, b"\0" * 4, rng.randbytes(4))
        )
    return bytes(data)


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
