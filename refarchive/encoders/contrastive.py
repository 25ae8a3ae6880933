"""A contrastive model at work: pictures and words in batches, on the processor or on a card.

A picture is made ready by the steps of the model's own preprocessing. On the processor they are Pillow's, several
pictures at a time in threads. On a card the same steps resize there (within one level of 255 of Pillow's), because
resizing there, and packing each part of a picture for the way, keep more cores busy than a machine has: a picture
travels once, and its parts are cut on the card. What is arithmetic on each value (mean and deviation) is done for a
whole batch where the model runs, and the card works on while the next batch is made ready.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from refarchive.encoders import sentences
from refarchive.encoders.base import Box, Identity, PictureCodes, cores

if TYPE_CHECKING:
    import torch
    from PIL.Image import Image

    from refarchive.encoders.base import Vectors


@dataclass(frozen=True)
class Running:
    """How a model is run: what changes its speed, and its vectors by no more than rounding.

    batch: pictures or texts that go through the model at once.
    precision: "float32", or a shorter type that matrix products are done in.
    threads: how many pictures are made ready at a time.
    resizing: "pillow", or "card" where the model's device resizes.
    """

    batch: int
    precision: str
    threads: int
    resizing: str = "pillow"

    @classmethod
    def on(cls, device: str) -> Running:
        """What was measured to be best on a device ("cuda", "cpu"); `tests/bench/encoding.py` measures it."""
        available = cores()
        if device == "cuda":
            return cls(batch=256, precision="float16", threads=min(8, available), resizing="card")
        return cls(batch=32, precision="float32", threads=min(2, available))


class OpenCLIP:
    """A contrastive model: words and pictures in one space, so that `meaning` is None."""

    def __init__(
        self,
        identity: Identity,
        model: Any,
        preprocess: Callable[[Image], torch.Tensor],
        tokenizer: Any,
        device: str,
        running: Running | None = None,
    ) -> None:
        self._identity = identity
        self._model = model
        self._preprocess = preprocess
        self._tokenizer = tokenizer
        self.device = device
        self.running = running or Running.on(device)

    @property
    def identity(self) -> Identity:
        """What an index of these vectors names."""
        return self._identity

    def encode_pictures(self, pictures: Sequence[Image]) -> PictureCodes:
        """Unit vectors (n, d) of upright sRGB pictures, through the model's own preprocessing."""
        return self.encode_parts(pictures, [[(0, 0, *picture.size)] for picture in pictures])

    def encode_parts(self, pictures: Sequence[Image], boxes: Sequence[Sequence[Box]]) -> PictureCodes:
        """Unit vectors of parts of pictures, box after box of one picture after the other, as if each were cut out."""
        import numpy as np
        import torch

        if not any(boxes):
            return PictureCodes(np.zeros((0, self._identity.likeness_dimension), np.float32), None)
        steps = _Steps.of(self._preprocess)
        there = self.running.resizing == "card" and steps.run_on_tensors
        found: list[torch.Tensor] = []  # left on the card, which works on while the next batch is made ready
        with (
            torch.inference_mode(),
            self._shorter(),
            ThreadPoolExecutor(self.running.threads, thread_name_prefix="ready") as pool,
        ):
            if there:
                shaped = steps.cut_there(pool.map(as_bytes, pictures), boxes, self.device)
            else:
                cut = [(picture, box) for picture, its in zip(pictures, boxes, strict=True) for box in its]
                shaped = pool.map(lambda part: steps.shape(part[0].crop(part[1])), cut)
            while batch := list(islice(shaped, self.running.batch)):
                pixels = steps.count(torch.stack(batch).to(self.device))
                found.append(_unit(self._model.encode_image(pixels)))
            return PictureCodes(likeness=torch.cat(found).cpu().numpy(), meaning=None)

    def _shorter(self) -> Any:
        import torch

        if self.running.precision == "float32":
            return nullcontext()
        return torch.autocast(self.device, dtype=getattr(torch, self.running.precision))

    def word_space(self, meaning: Vectors) -> Vectors:
        """The vectors themselves: words live in the space of the pictures."""
        return meaning

    def encode_words(self, texts: Sequence[str]) -> Vectors:
        """Unit vectors (n, d) of words or sentences; what goes past the model's context length does not count."""
        import numpy as np
        import torch

        found = np.zeros((len(texts), self._identity.likeness_dimension), np.float32)
        for start in range(0, len(texts), self.running.batch):
            part = slice(start, start + self.running.batch)
            with torch.inference_mode(), self._shorter():
                tokens = self._tokenizer([sentences.clean(text) for text in texts[part]]).to(self.device)
                found[part] = _unit(self._model.encode_text(tokens)).cpu().numpy()
        return found


def _unit(vectors: torch.Tensor) -> torch.Tensor:
    """Rows of length 1, in float32: in a shorter type they would be off by half a per cent."""
    import torch

    return torch.nn.functional.normalize(vectors.float(), dim=-1)


def as_bytes(picture: Image) -> torch.Tensor:
    """A picture as bytes of shape (3, height, width)."""
    import numpy as np
    import torch

    return torch.from_numpy(np.array(picture, np.uint8)).permute(2, 0, 1)


@dataclass(frozen=True)
class _Steps:
    """A preprocessing in two: what is done to each picture, and the arithmetic that a whole batch can have at once."""

    shape: Callable[[Any], torch.Tensor]  # a picture in; bytes out, or numbers where the steps are not known here
    count: Callable[[torch.Tensor], torch.Tensor]
    resize: Callable[[torch.Tensor], torch.Tensor]  # the same as `shape`, on bytes that lie on the device
    run_on_tensors: bool

    @classmethod
    def of(cls, preprocess: Callable[[Image], torch.Tensor]) -> _Steps:
        from torchvision.transforms import CenterCrop, Compose, Normalize, Resize, ToTensor

        steps = list(getattr(preprocess, "transforms", ()))
        if len(steps) < 2 or not isinstance(steps[-1], Normalize) or not isinstance(steps[-2], ToTensor):
            return cls(preprocess, lambda batch: batch, lambda picture: picture, False)
        sizes = [step for step in steps[:-2] if isinstance(step, (Resize, CenterCrop))]
        modes = [step for step in steps[:-2] if type(step).__name__ == "MaybeConvertMode"]  # nothing to do for RGB
        shape, normalize = Compose(steps[:-2]), steps[-1]

        def count(batch: torch.Tensor) -> torch.Tensor:
            found: torch.Tensor = normalize(batch.float().div(255))
            return found

        known = len(sizes) + len(modes) == len(steps) - 2
        return cls(lambda picture: as_bytes(shape(picture)), count, Compose(sizes), known)

    def cut_there(
        self, wholes: Iterable[torch.Tensor], boxes: Sequence[Sequence[Box]], device: str
    ) -> Iterator[torch.Tensor]:
        """Parts, cut and resized on the device, of pictures that each travel once."""
        for whole, its in zip(wholes, boxes, strict=True):
            picture = whole.to(device, non_blocking=True)
            for left, top, right, bottom in its:
                yield self.resize(picture[:, top:bottom, left:right])
