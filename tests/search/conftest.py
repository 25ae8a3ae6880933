"""What the search tests share: Debian packages unpacked once, and a dictionary read."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from debian_package import unpack

AUTHORITIES = Path(__file__).parents[1] / "authorities"


@pytest.fixture(scope="session")
def stamps(tmp_path_factory) -> Path:
    """Debian's tuxpaint-stamps-default: object pictures with a caption in a text file beside each."""
    return unpack("tuxpaint-stamps-default", tmp_path_factory.mktemp("stamps"))


def decoded(number: str) -> int:
    """A number of a dictd index: base 64, most significant digit first (dictfmt(1))."""
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    value = 0
    for digit in number:
        value = value * 64 + alphabet.index(digit)
    return value


class Dictionary:
    """A dictionary in dictd's format: a gzip file of articles, and an index of headword, offset, length."""

    def __init__(self, stem: Path) -> None:
        self._articles = gzip.decompress(stem.with_suffix(".dict.dz").read_bytes())
        self._places: dict[str, list[tuple[int, int]]] = {}
        for line in stem.with_suffix(".index").read_text(encoding="utf-8").splitlines():
            headword, offset, length = line.rsplit("\t", 2)
            self._places.setdefault(headword, []).append((decoded(offset), decoded(length)))

    def articles(self, headword: str) -> list[str]:
        return [self._articles[o : o + n].decode("utf-8") for o, n in self._places.get(headword, [])]

    def nouns_of_1913(self, headword: str) -> str:
        """The noun articles of 1913 under a headword, without pronunciation, etymology and source tags."""
        found = []
        for article in self.articles(headword):
            if not re.search(r",\s+n\b", article[:250]) or "1913 Webster" not in article:
                continue
            body = re.sub(r"\[[^][]*\]", "", article)  # twice: brackets hold characters in brackets
            body = re.sub(r"\[[^][]*\]", "", body)
            body = re.sub(r"\\[^\\]*\\", "", body, count=1).replace("{", "").replace("}", "")
            found.append("\n".join(line.strip() for line in body.splitlines()).strip())
        return "\n\n".join(found)


@pytest.fixture(scope="session")
def dictionary(tmp_path_factory) -> Dictionary:
    """Debian's dict-gcide: The GNU Collaborative International Dictionary of English."""
    return Dictionary(unpack("dict-gcide", tmp_path_factory.mktemp("gcide")) / "usr/share/dictd/gcide")
