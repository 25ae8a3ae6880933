"""OpenCLIP encoders with a tiny model, randomly initialised, against open_clip used directly."""

from __future__ import annotations

import functools
import hashlib
import http.server
import json
import pickle
import socket
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import open_clip
import pytest
import torch
from open_clip import pretrained
from PIL import Image

from refarchive.encoders import base, load, openclip, weights_here
from refarchive.errors import UnknownEncoder, WeightsUnavailable

MODEL = "refarchive-test-tiny"
CONFIG = {
    "embed_dim": 24,
    "vision_cfg": {"image_size": 32, "layers": 2, "width": 32, "patch_size": 8, "head_width": 16},
    "text_cfg": {"context_length": 16, "vocab_size": 49408, "width": 32, "heads": 2, "layers": 2},
}


@pytest.fixture(scope="module")
def tiny(tmp_path_factory):
    """A registered model and its checkpoint; registered from a folder that holds nothing else."""
    folder = tmp_path_factory.mktemp("configs")
    (folder / f"{MODEL}.json").write_text(json.dumps(CONFIG))
    before = list(open_clip.factory._MODEL_CONFIG_PATHS)
    open_clip.add_model_config(folder)
    torch.manual_seed(4)
    model = open_clip.create_model(MODEL)
    checkpoint = tmp_path_factory.mktemp("weights") / "tiny.pt"
    torch.save(model.state_dict(), checkpoint)
    yield checkpoint
    open_clip.factory._MODEL_CONFIG_PATHS[:] = before
    open_clip.factory._rescan_model_configs()


@pytest.fixture
def pictures():
    rng = np.random.default_rng(2)
    sizes = [(50, 40), (32, 32), (31, 90)] * 12  # more than one batch
    return [Image.fromarray(rng.integers(0, 256, (h, w, 3), dtype=np.uint8)) for w, h in sizes]


@pytest.fixture
def no_network(monkeypatch):
    def refuse(*_args, **_kwargs):
        raise OSError("no network in this test")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    for name in ("http_proxy", "https_proxy", "all_proxy", "HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def empty_caches(monkeypatch, tmp_path):
    from huggingface_hub import constants

    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(constants, "HF_HUB_CACHE", str(tmp_path / "hub"))
    return tmp_path


def test_vectors_equal_those_of_open_clip_itself(tiny, pictures, no_network):
    encoder = load(f"openclip:{MODEL}:{tiny}")
    assert isinstance(encoder, base.Encoder)
    model, _, preprocess = open_clip.create_model_and_transforms(MODEL, pretrained=str(tiny))
    model.eval()
    texts = ["a woman with a shawl", "", "ſalt £5 \U0001f6a3", "rope " * 500]
    with torch.inference_mode():
        images = model.encode_image(torch.stack([preprocess(p) for p in pictures]))
        words = model.encode_text(open_clip.get_tokenizer(MODEL)(texts))
    codes = encoder.encode_pictures(pictures)
    assert codes.meaning is None
    assert codes.likeness.shape == (36, 24)
    expected = (images / images.norm(dim=1, keepdim=True)).numpy()
    np.testing.assert_allclose(codes.likeness, expected, atol=1e-6)
    np.testing.assert_allclose(
        encoder.encode_words(texts), (words / words.norm(dim=1, keepdim=True)).numpy(), atol=1e-6
    )
    assert np.ptp(expected, axis=0).max() > 0.01  # pictures do differ
    np.testing.assert_array_equal(encoder.word_space(codes.likeness), codes.likeness)
    assert encoder.encode_pictures([]).likeness.shape == (0, 24)
    assert encoder.encode_words([]).shape == (0, 24)
    assert np.isfinite(encoder.encode_words(["\ud800"])).all()


@pytest.mark.parametrize("resizing", ["pillow", "card"])
def test_parts_are_encoded_as_if_each_were_cut_out(tiny, pictures, resizing):
    encoder = load(f"openclip:{MODEL}:{tiny}")
    boxes = [[(0, 0, *p.size), (3, 5, 20, 31), (10, 0, 11, 1)] for p in pictures]
    cut = [p.crop(box) for p, its in zip(pictures, boxes, strict=True) for box in its]
    expected = encoder.encode_pictures(cut).likeness
    encoder.running = replace(encoder.running, resizing=resizing, batch=7)
    found = base.encode_parts(encoder, pictures, boxes).likeness
    assert found.shape == (108, 24)
    # torchvision's resizing of tensors rounds otherwise than Pillow's, by a level of 255 at most.
    np.testing.assert_allclose(found, expected, atol=1e-6 if resizing == "pillow" else 0.02)
    np.testing.assert_allclose((found * expected).sum(1), 1, atol=1e-6 if resizing == "pillow" else 1e-3)
    assert encoder.encode_parts([], []).likeness.shape == (0, 24)


def test_a_shorter_type_changes_vectors_by_rounding_only(tiny, pictures):
    encoder = load(f"openclip:{MODEL}:{tiny}")
    exact = encoder.encode_pictures(pictures).likeness
    encoder.running = replace(encoder.running, precision="bfloat16")  # what processors have too
    found = encoder.encode_pictures(pictures).likeness
    assert found.dtype == np.float32
    assert not np.array_equal(found, exact)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1, atol=1e-6)
    np.testing.assert_allclose((found * exact).sum(1), 1, atol=1e-3)


def test_steps_that_are_not_known_are_all_done_to_each_picture(tiny, pictures):
    encoder = load(f"openclip:{MODEL}:{tiny}")
    expected = encoder.encode_pictures(pictures).likeness
    whole = encoder._preprocess
    encoder._preprocess = lambda picture: whole(picture)
    encoder.running = replace(encoder.running, resizing="card")
    np.testing.assert_allclose(encoder.encode_pictures(pictures).likeness, expected, atol=1e-6)


def test_identity_names_weights_and_preprocessing_but_no_path(tiny):
    identity = load(f"openclip:{MODEL}:{tiny}").identity
    assert identity.name == f"openclip:{MODEL}:tiny.pt"
    assert identity.weights_sha256 == hashlib.sha256(tiny.read_bytes()).hexdigest()
    assert (identity.likeness_dimension, identity.meaning_dimension) == (24, 0)
    for part in (MODEL, "32", "bicubic", "0.481455"):  # the mean that open_clip takes by default
        assert part in identity.preprocessing
    assert str(tiny.parent) not in json.dumps(identity.as_dict())


def test_a_bare_file_name_is_found_through_the_setting(tiny, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("REFARCHIVE_ENCODER", raising=False)
    name = f"openclip:{MODEL}:tiny.pt"
    assert not weights_here(name)
    with pytest.raises(WeightsUnavailable, match="REFARCHIVE_ENCODER"):
        load(name)
    monkeypatch.setenv("REFARCHIVE_ENCODER", f"openclip:{MODEL}:{tiny}")
    assert weights_here(name)
    assert load(name).identity == load(f"openclip:{MODEL}:{tiny}").identity


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (r"openclip:ViT-B-32:C:\weights\mine.pt", ("ViT-B-32", r"C:\weights\mine.pt")),
        ("openclip:ViT-B-32:/a:b/c.pt", ("ViT-B-32", "/a:b/c.pt")),
        ("openclip:ViT-B-32:openai", ("ViT-B-32", "openai")),
    ],
)
def test_names_with_colons_in_paths(name, expected):
    assert openclip.parts(name) == expected


def test_a_path_with_colons_loads(tiny, tmp_path):
    folder = tmp_path / "C:" / "a b"
    folder.mkdir(parents=True)
    (folder / "x:y.pt").write_bytes(tiny.read_bytes())
    assert load(f"openclip:{MODEL}:{folder / 'x:y.pt'}").identity.name == f"openclip:{MODEL}:x:y.pt"


@pytest.mark.parametrize("name", ["openclip", "openclip:", "openclip:ViT-B-32", "openclip:ViT-B-32:", "openclip::x"])
def test_unfinished_names_are_refused(name):
    for asked in (load, weights_here):
        with pytest.raises(UnknownEncoder, match="openclip:MODEL:WEIGHTS"):
            asked(name)


def test_unknown_models_and_tags_list_near_names():
    with pytest.raises(UnknownEncoder, match="ViT-B-32"):
        load("openclip:ViT-B-33:openai")
    with pytest.raises(UnknownEncoder, match="laion2b_s34b_b79k"):
        load("openclip:ViT-B-32:laion2b_s34b_b97k")
    with pytest.raises(UnknownEncoder, match="checkpoint file"):
        load("openclip:ViT-S-32-alt:openai")  # a model without any tag


def test_a_tag_is_not_fetched_unasked_and_the_built_in_is_named(no_network, empty_caches):
    name = "openclip:ViT-B-32:laion2b_s34b_b79k"
    assert not weights_here(name)
    with pytest.raises(WeightsUnavailable, match="not asked for") as caught:
        load(name)
    assert "built-in" in caught.value.next_step


@pytest.mark.parametrize("tag", ["laion2b_s34b_b79k", "laion400m_e32"])
def test_without_a_network_fetching_says_so_and_names_the_built_in(no_network, empty_caches, tag):
    with pytest.raises(WeightsUnavailable, match="no network") as caught:
        load(f"openclip:ViT-B-32:{tag}", lambda *_: None)
    assert "built-in" in caught.value.next_step
    assert not [path for path in empty_caches.rglob("*") if path.is_file() and path.stat().st_size]


class _Server(http.server.SimpleHTTPRequestHandler):
    """Serves one file, or as much of it as `cut` says, at any address; on a hub's paths with a hub's headers."""

    cut: int | None = None

    def do_HEAD(self):
        self._answer(with_body=False)

    def do_GET(self):
        self._answer(with_body=True)

    def _answer(self, with_body):
        content = Path(self.directory, "tiny.pt").read_bytes()
        if self.path.endswith(".safetensors"):
            self.send_response(404)
            self.send_header("X-Error-Code", "EntryNotFound")
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        self.send_response(200)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("ETag", f'"{hashlib.sha256(content).hexdigest()}"')
        self.send_header("X-Repo-Commit", "0" * 40)
        self.end_headers()
        if with_body:
            self.wfile.write(content[: self.cut])

    def log_message(self, *_):
        pass


@pytest.fixture
def server(tiny):
    handler = type("Handler", (_Server,), {})
    made = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(handler, directory=str(tiny.parent)))
    thread = threading.Thread(target=made.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{made.server_port}", handler
    made.shutdown()
    made.server_close()
    thread.join()


def test_a_tag_is_fetched_when_asked_with_progress_and_hash(tiny, server, monkeypatch, empty_caches):
    address, _ = server
    entry = {"url": f"{address}/tiny-fetched.pt", "mean": (0.5, 0.5, 0.5), "std": (0.25, 0.25, 0.25)}
    monkeypatch.setitem(pretrained._PRETRAINED, MODEL, {"invented": entry})
    name = f"openclip:{MODEL}:invented"
    assert not weights_here(name)
    told: list[tuple[int, int, str]] = []
    encoder = load(name, lambda *step: told.append(step))
    digest = hashlib.sha256(tiny.read_bytes()).hexdigest()
    assert encoder.identity.weights_sha256 == digest
    assert encoder.identity.name == name
    assert "mean 0.5/0.5/0.5, std 0.25/0.25/0.25" in encoder.identity.preprocessing  # what belongs to the tag
    size = tiny.stat().st_size
    assert (size, size, f"weights of {name}, bytes") in told
    assert told[-1][2].endswith(digest)
    assert weights_here(name)
    assert load(name).identity == encoder.identity  # now without asking, from this machine


def test_a_tag_on_a_hub_is_fetched_with_progress(tiny, server, monkeypatch, empty_caches):
    from huggingface_hub import constants

    address, _ = server
    monkeypatch.setattr(constants, "ENDPOINT", address)
    monkeypatch.setattr(constants, "HF_HUB_OFFLINE", False)
    template = address + "/{repo_id}/resolve/{revision}/{filename}"
    monkeypatch.setattr(constants, "HUGGINGFACE_CO_URL_TEMPLATE", template)
    monkeypatch.setitem(pretrained._PRETRAINED, MODEL, {"invented": {"hf_hub": "nobody/invented/tiny.bin"}})
    name = f"openclip:{MODEL}:invented"
    told: list[tuple[int, int, str]] = []
    encoder = load(name, lambda *step: told.append(step))
    assert encoder.identity.weights_sha256 == hashlib.sha256(tiny.read_bytes()).hexdigest()
    assert any(done == tiny.stat().st_size for done, _, what in told if what.endswith("bytes"))
    assert weights_here(name)
    assert load(name).identity == encoder.identity


def test_a_download_cut_short_leaves_nothing_that_passes_for_whole(tiny, server, monkeypatch, empty_caches):
    address, handler = server
    handler.cut = 1000
    monkeypatch.setitem(pretrained._PRETRAINED, MODEL, {"invented": {"url": f"{address}/tiny-cut.pt"}})
    name = f"openclip:{MODEL}:invented"
    with pytest.raises(WeightsUnavailable):
        load(name, lambda *_: None)
    assert not weights_here(name)
    assert not [path for path in empty_caches.rglob("*.p*") if path.is_file()]


class _Nasty:
    def __init__(self, mark):
        self.mark = mark

    def __reduce__(self):
        return Path.touch, (self.mark,)


def test_files_that_hold_no_weights_of_the_model_are_refused(tiny, tmp_path):
    mark = tmp_path / "must-not-exist"
    nasty = tmp_path / "nasty.pt"
    torch.save({"state_dict": _Nasty(mark)}, nasty)
    plain = tmp_path / "plain.pt"
    plain.write_bytes(pickle.dumps({"visual.proj": _Nasty(mark)}))
    cut = tmp_path / "cut.pt"
    cut.write_bytes(tiny.read_bytes()[:5000])
    empty = tmp_path / "empty.pt"
    empty.touch()
    other = tmp_path / "other.pt"
    torch.save({"visual.proj": torch.zeros(3)}, other)
    for path in (nasty, plain, cut, empty, other):
        with pytest.raises(WeightsUnavailable, match=path.name):
            load(f"openclip:{MODEL}:{path}")
    assert not mark.exists()  # a checkpoint's code is never run


def test_quick_gelu_follows_the_tag(tiny, monkeypatch):
    """A tag trained with the quick form of GELU gets it, though the model's own file does not say so."""
    gives = {}
    for quick in (False, True):
        entry = {"file": str(tiny), "quick_gelu": quick}
        monkeypatch.setitem(pretrained._PRETRAINED, MODEL, {"invented": entry})
        gives[quick] = load(f"openclip:{MODEL}:invented")
    picture = Image.new("RGB", (32, 32), (200, 80, 10))
    direct = open_clip.create_model(MODEL, pretrained=str(tiny), force_quick_gelu=True).eval()
    _, _, preprocess = open_clip.create_model_and_transforms(MODEL, pretrained=str(tiny))
    with torch.inference_mode():
        expected = direct.encode_image(preprocess(picture)[None], normalize=True).numpy()
    np.testing.assert_allclose(gives[True].encode_pictures([picture]).likeness, expected, atol=1e-6)
    assert not np.allclose(gives[False].encode_pictures([picture]).likeness, expected, atol=1e-4)
    assert gives[True].identity.preprocessing != gives[False].identity.preprocessing
