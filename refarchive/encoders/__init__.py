"""Encoders: what turns pictures and words into vectors. Importing this loads none of the heavy packages."""

from __future__ import annotations

import os

from refarchive.encoders.base import Encoder, Progress, load, register, registered
from refarchive.errors import UnknownEncoder

BUILT_IN = "built-in"
SETTING = "REFARCHIVE_ENCODER"  # environment variable naming the weights to prefer on this machine

__all__ = ["BUILT_IN", "SETTING", "choose", "load", "register", "registered", "weights_here"]


def _built_in(name: str, progress: Progress | None) -> Encoder:
    from refarchive.encoders import builtin

    return builtin.make(name, progress)


def _openclip(name: str, progress: Progress | None) -> Encoder:
    from refarchive.encoders import openclip

    return openclip.make(name, progress)


register(BUILT_IN, _built_in)
register("openclip", _openclip)


def weights_here(name: str) -> bool:
    """Whether an encoder could be loaded now without fetching anything. Asks no network.

    Encoders of outsiders are taken to be here. Raises UnknownEncoder for a name no prefix of which is registered.
    """
    prefix = name.partition(":")[0]
    if prefix not in registered():
        raise UnknownEncoder(f"No encoder is called {name!r}.", f"Available: {', '.join(registered())}.")
    if prefix != "openclip":
        return True
    from refarchive.encoders import openclip

    return openclip.weights_here(name)


def choose(name: str = "auto") -> tuple[str, str]:
    """Which encoder a new archive takes, and a sentence that says why.

    `name` is an encoder's name, which is then taken as it is, or "auto": the encoder that the environment variable
    REFARCHIVE_ENCODER names if its weights are on this machine, else the built-in. Loads and fetches nothing.

    Raises UnknownEncoder where a name, typed or set, is not registered.
    """
    if name != "auto":
        if name.partition(":")[0] not in registered():
            raise UnknownEncoder(f"No encoder is called {name!r}.", f"Available: {', '.join(registered())}.")
        return name, f"Encoder {name}, as asked for."
    named = os.environ.get(SETTING, "").strip()
    if not named:
        return BUILT_IN, (
            f"Encoder built-in: it needs no download, and {SETTING} names no other. "
            "OpenCLIP weights find pictures by words far better."
        )
    if named.partition(":")[0] == BUILT_IN:
        return BUILT_IN, f"Encoder built-in, as {SETTING} names it."
    if weights_here(named):
        return named, f"Encoder {named}: {SETTING} names it and its weights are on this machine."
    return BUILT_IN, f"Encoder built-in: the weights of {named}, which {SETTING} names, are not on this machine."
