"""Encoders "openclip:MODEL:WEIGHTS" through open_clip_torch.

WEIGHTS is a pretrained tag that open_clip knows, or a checkpoint file on this machine. A checkpoint is named in the
encoder's identity by its file name only, because no archive holds an absolute path; a bare file name is looked for in
the working folder, then beside or at the checkpoint that the environment variable REFARCHIVE_ENCODER names.

Weights of a tag are fetched only when asked for (`fetch=True`; through the registry: when a progress callback is
given, since nothing is fetched that nobody can watch). Everything else asks no network.
"""

from __future__ import annotations

import difflib
import os
import urllib.request
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from refarchive.encoders import SETTING, sentences
from refarchive.encoders.base import Identity, Progress
from refarchive.encoders.contrastive import OpenCLIP
from refarchive.errors import UnknownEncoder, WeightsUnavailable

if TYPE_CHECKING:
    pass

PREFIX = "openclip"
_CHUNK = 1 << 20
_CHECKPOINTS = (".pt", ".pth", ".bin", ".safetensors", ".npz", ".ckpt")
_INSTEAD = "The built-in encoder needs no download: use --encoder built-in."


def parts(name: str) -> tuple[str, str]:
    r"""MODEL and WEIGHTS of an encoder's name. Only the first two colons part; a path may hold more.

    Raises UnknownEncoder where one of both is missing.

    >>> parts(r"openclip:ViT-B-32:C:\weights\mine.pt")
    ('ViT-B-32', 'C:\\weights\\mine.pt')
    """
    prefix, _, rest = name.partition(":")
    model, _, weights = rest.partition(":")
    if prefix != PREFIX or not model or not weights:
        raise UnknownEncoder(
            f"No encoder is called {name!r}.",
            "Write openclip:MODEL:WEIGHTS, where WEIGHTS is a pretrained tag or a checkpoint file.",
        )
    return model, weights


def _is_path(weights: str) -> bool:
    return "/" in weights or "\\" in weights or weights.lower().endswith(_CHECKPOINTS) or os.path.isfile(weights)


def _checkpoint(weights: str) -> Path | None:
    """The checkpoint file named, or None where it is not on this machine."""
    path = Path(weights).expanduser()
    if path.is_file():
        return path
    named = os.environ.get(SETTING, "").strip()
    if path.name == weights and named.startswith(f"{PREFIX}:"):
        preferred = Path(named.split(":", 2)[-1]).expanduser()
        for candidate in (preferred, preferred.parent / weights):
            if candidate.name == weights and candidate.is_file():
                return candidate
    return None


def _near(word: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(word, known, 4, 0.4) or list(known)[:4]
    return ", ".join(near)


def _tag(model: str, tag: str) -> dict[str, Any]:
    """What open_clip knows of a pretrained tag. Raises UnknownEncoder with near names."""
    _known_model(model)
    from open_clip import pretrained

    found = pretrained.get_pretrained_cfg(model, tag)
    if not found:
        tags = pretrained.list_pretrained_tags_by_model(model)
        near = f"It has: {_near(tag, tags)}." if tags else "It has none: name a checkpoint file."
        raise UnknownEncoder(f"The model {model} has no pretrained tag {tag!r}, and no such file is here.", near)
    return cast("dict[str, Any]", found)


def _known_model(model: str) -> None:
    import open_clip

    models = open_clip.list_models()
    if model not in models:
        raise UnknownEncoder(f"open_clip has no model {model!r}.", f"Near names: {_near(model, models)}.")


def _hub_files(entry: dict[str, Any]) -> tuple[str, list[str]] | None:
    """Repository and file names, best first, of a tag whose weights lie on a hub; None where it has a plain address."""
    if not entry.get("hf_hub"):
        return None
    repository, filename = os.path.split(entry["hf_hub"])
    filename = filename or "open_clip_pytorch_model.bin"
    names = [filename]
    if filename.endswith((".bin", ".pth")):
        safer = "open_clip_model.safetensors" if filename == "open_clip_pytorch_model.bin" else ""
        names = [n for n in (safer, filename.rpartition(".")[0] + ".safetensors", filename) if n]
    return repository, names


def _plain_target(url: str) -> Path:
    return Path("~/.cache/clip").expanduser() / os.path.basename(url)


def _on_disk(entry: dict[str, Any]) -> Path | None:
    """The file of a tag's weights if it was fetched before."""
    if entry.get("file"):
        path = Path(entry["file"])
        return path if path.is_file() else None
    hub = _hub_files(entry)
    if hub is not None:
        from huggingface_hub import try_to_load_from_cache

        for name in hub[1]:
            found = try_to_load_from_cache(hub[0], name)
            if isinstance(found, str) and os.path.isfile(found):
                return Path(found)
        return None
    target = _plain_target(entry.get("url", ""))
    return target if target.is_file() else None


def weights_here(name: str) -> bool:
    """Whether the weights are on this machine. Contacts nothing.

    Raises UnknownEncoder for a model or tag that open_clip does not know.
    """
    model, weights = parts(name)
    if _is_path(weights):
        return _checkpoint(weights) is not None
    return _on_disk(_tag(model, weights)) is not None


def _fetch(name: str, entry: dict[str, Any], progress: Progress | None) -> Path:
    """Fetch a tag's weights. Raises WeightsUnavailable where that fails; nothing half-fetched is taken for whole."""
    hub = _hub_files(entry)
    try:
        if hub is not None:
            _knock()
            return _fetch_from_hub(hub, name, progress)
        return _fetch_from_address(entry["url"], name, progress)
    except Exception as error:  # a dozen kinds, by library and by what failed on the way
        raise WeightsUnavailable(
            f"There is no network, or it did not answer: the weights of {name} could not be fetched "
            f"({type(error).__name__}).",
            _INSTEAD,
        ) from error


def _knock() -> None:
    """Raise OSError at once where the hub cannot be reached, instead of after half a minute of trying again.

    Behind a proxy the hub is reached otherwise, and is not tried here.
    """
    import socket
    from urllib.parse import urlsplit

    from huggingface_hub import constants

    if urllib.request.getproxies():
        return
    address = urlsplit(constants.ENDPOINT)
    port = address.port or (80 if address.scheme == "http" else 443)
    socket.create_connection((address.hostname or "", port), timeout=10).close()


def _fetch_from_hub(hub: tuple[str, list[str]], name: str, progress: Progress | None) -> Path:
    from huggingface_hub import hf_hub_download
    from huggingface_hub.errors import EntryNotFoundError, LocalEntryNotFoundError
    from tqdm import tqdm

    class Told(tqdm):  # type: ignore[type-arg]
        """Hands a download's progress on, and draws nothing itself."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            kwargs.pop("name", None)
            super().__init__(*args, **{**kwargs, "disable": False, "file": open(os.devnull, "w")})  # noqa: SIM115

        def update(self, n: float | None = 1) -> bool | None:
            result = super().update(n)
            if progress is not None:
                progress(int(self.n), int(self.total or 0), f"weights of {name}, bytes")
            return result

        def close(self) -> None:
            super().close()
            if not self.fp.closed:
                self.fp.close()

    last: Exception | None = None
    for filename in hub[1]:
        try:
            return Path(hf_hub_download(hub[0], filename, tqdm_class=Told))
        except LocalEntryNotFoundError:
            raise
        except EntryNotFoundError as error:
            last = error
    raise last or FileNotFoundError(hub[0])


def _fetch_from_address(url: str, name: str, progress: Progress | None) -> Path:
    import shutil

    target = _plain_target(url)
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        with urllib.request.urlopen(url, timeout=60) as source, open(half, "wb") as file:  # noqa: S310 (from open_clip)
            total, done = int(source.headers.get("Content-Length") or 0), 0
            while chunk := source.read(_CHUNK):
                file.write(chunk)
                done += len(chunk)
                if progress is not None:
                    progress(done, total, f"weights of {name}, bytes")
            if total and done != total:
                raise ConnectionError("cut short")
        shutil.move(half, target)
    finally:
        half.unlink(missing_ok=True)
    return target


def load(name: str, progress: Progress | None = None, *, fetch: bool = False) -> OpenCLIP:
    """Load "openclip:MODEL:WEIGHTS", on CUDA where there is a card.

    Raises UnknownEncoder for an unknown model or tag, WeightsUnavailable where weights are not here and `fetch` is
    False or fails, or where a file does not hold weights of that model.
    """
    import open_clip

    model_name, weights = parts(name)
    _known_model(model_name)
    quick_gelu = False
    if _is_path(weights):
        path = _checkpoint(weights)
        if path is None:
            raise WeightsUnavailable(
                f"The checkpoint file {weights} of {name} is not on this machine.",
                f"Put it there, or set {SETTING} to openclip:{model_name}:PATH. {_INSTEAD}",
            )
        source, shown = str(path), f"{PREFIX}:{model_name}:{path.name}"
    else:
        entry = _tag(model_name, weights)
        path = _on_disk(entry)
        if path is None:
            if not fetch:
                raise WeightsUnavailable(
                    f"The weights of {name} are not on this machine, and fetching them was not asked for.",
                    f"Name the encoder with --encoder to fetch them. {_INSTEAD}",
                )
            path = _fetch(name, entry, progress)
        # What a tag was trained with belongs to it; open_clip itself only warns where a model's file says otherwise.
        source, shown, quick_gelu = weights, name, bool(entry.get("quick_gelu"))
    sha256 = sentences.sha256_of(path)
    if progress is not None:
        progress(1, 1, f"weights of {name}, SHA-256 {sha256}")
    device = _device()
    with sentences.offline(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="QuickGELU mismatch")
        try:
            model, _, preprocess = open_clip.create_model_and_transforms(
                model_name, pretrained=source, device=device, force_quick_gelu=quick_gelu, weights_only=True
            )
        except Exception as error:  # pickle, zip, shape and key errors of torch and safetensors alike
            raise WeightsUnavailable(
                f"The file {path.name} cannot be read as weights of {model_name} ({type(error).__name__}).",
                f"Check that the file is whole and belongs to this model. {_INSTEAD}",
            ) from error
        try:
            tokenizer = open_clip.get_tokenizer(model_name)
        except Exception as error:
            raise WeightsUnavailable(
                f"The tokenizer of {model_name} is not on this machine ({type(error).__name__}).",
                f"Choose a model with open_clip's own tokenizer, such as ViT-B-32. {_INSTEAD}",
            ) from error
    model.eval()
    identity = Identity(
        name=shown,
        weights_sha256=sha256,
        likeness_dimension=int(open_clip.get_model_config(model_name)["embed_dim"]),
        meaning_dimension=0,
        preprocessing=_preprocessing(model_name, model.visual.preprocess_cfg, quick_gelu),
    )
    return OpenCLIP(identity, model, preprocess, tokenizer, device)


def _device() -> str:
    import torch

    return "cuda" if torch.cuda.is_available() else "cpu"


def _preprocessing(model: str, settings: dict[str, Any], quick_gelu: bool) -> str:
    wanted = ("size", "interpolation", "resize_mode", "fill_color", "mean", "std")
    told = ", ".join(f"{key} {_plain(settings[key])}" for key in wanted if key in settings)
    return f"{model}{' with quick GELU' if quick_gelu else ''}: {told}"


def _plain(value: Any) -> str:
    if isinstance(value, (tuple, list)):
        return "/".join(f"{v:g}" if isinstance(v, (int, float)) else str(v) for v in value)
    return str(value)


def make(name: str, progress: Progress | None = None) -> OpenCLIP:
    """Load for the registry; weights are fetched only where the caller shows progress."""
    return load(name, progress, fetch=progress is not None)
