"""Calling a library that warns of what is dealt with already, from several threads at once."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

_ONE_AT_A_TIME = threading.Lock()  # `catch_warnings` changes the filters of the whole process


@contextmanager
def quiet() -> Iterator[None]:
    """Let no warning out of the block; blocks of other threads wait, so that each puts back what it found."""
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
