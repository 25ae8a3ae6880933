# ruff: noqa: E501 (tables)
"""What comes from outside is parsed where the table says, and nowhere else; every parser there is fuzzed."""

from __future__ import annotations

import ast
import importlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import refarchive
from refarchive import errors

sys.path.insert(0, str(Path(__file__).parent))
import parsers
from targets import TARGETS

ROOT = Path(refarchive.__file__).parent

# A call that parses, by the last words of what is called, and the name under which the table has it.
CALLS = {
    "Image.open": "Pillow", "pil.open": "Pillow", "JpegImageFile": "Pillow", "PngImageFile": "Pillow", "TiffImageFile": "Pillow",
    "WebPImageFile": "Pillow", "GifImageFile": "Pillow", "HeifImageFile": "Pillow", "ImageFile.Parser": "Pillow",
    "Image.Exif": "Pillow", "getxmp": "Pillow", "getiptcinfo": "Pillow", "ImageCms.getOpenProfile": "LittleCMS",
    "ImageCms.ImageCmsProfile": "LittleCMS", "tifffile.TiffFile": "tifffile", "tifffile.imread": "tifffile",
    "cv2.imread": "OpenCV", "cv2.imdecode": "OpenCV", "rawpy.imread": "LibRaw", "rawpy.RawPy": "LibRaw",
    "tomllib.load": "tomllib", "tomllib.loads": "tomllib", "tomlkit.parse": "tomlkit", "tomlkit.loads": "tomlkit",
    "tomlkit.load": "tomlkit", "csv.reader": "csv", "csv.DictReader": "csv", "pd.read_csv": "pandas", "json.loads": "json",
    "json.load": "json", "pypdfium2.PdfDocument": "PDFium", "minidom.parseString": "defusedxml", "minidom.parse": "defusedxml",
    "ElementTree.fromstring": "defusedxml", "ElementTree.parse": "defusedxml", "ElementTree.iterparse": "defusedxml",
    "zlib.decompress": "zlib", "zlib.decompressobj": "zlib", "torch.load": "torch", "load_file": "safetensors",
    "open_clip.create_model_and_transforms": "torch", "np.fromfile": "numpy", "np.memmap": "numpy", "np.frombuffer": "numpy",
    "numpy.frombuffer": "numpy", "struct.unpack": "struct", "struct.unpack_from": "struct", "sqlite3.connect": "sqlite3",
    "HTMLParser": "html.parser", "parse_edtf": "edtf",
}  # fmt: skip
# What reads code, or bytes as code, or formats that nothing here needs: not even imported.
NEVER_IMPORTED = frozenset(
    "pickle cPickle _pickle dill cloudpickle joblib marshal shelve yaml plistlib zipfile tarfile gzip bz2 lzma shutil.unpack_archive "
    "xml.etree xml.sax xml.dom.minidom.parse xml.dom.minidom.parseString xml.dom.pulldom xml.dom.expatbuilder lxml xmlrpc numpy.lib.format pandas.io code codeop".split()
)
NEVER_CALLED = frozenset(
    "eval exec compile np.load numpy.load np.loadtxt np.genfromtxt faiss.read_index pd.read_pickle pd.read_excel pd.read_html "
    "pd.read_xml pd.read_hdf pd.read_parquet shutil.unpack_archive torch.jit.load torch.package.PackageImporter".split()
)


def modules() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted(ROOT.rglob("*.py")):
        yield ".".join(path.relative_to(ROOT).with_suffix("").parts), ast.parse(path.read_text("utf-8"))


def called(node: ast.Call) -> str:
    """What is called, in its last words: `np.load`, `minidom.parseString`, `eval`."""
    if isinstance(node.func, ast.Name):
        return node.func.id
    if isinstance(node.func, ast.Attribute):
        value = node.func.value
        owner = value.id if isinstance(value, ast.Name) else value.attr if isinstance(value, ast.Attribute) else ""
        return f"{owner}.{node.func.attr}" if owner else node.func.attr
    return ""


def parsing(tree: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        names = []
        if isinstance(node, ast.Call):
            names = [called(node)]
        elif isinstance(node, ast.ClassDef):
            names = [ast.unparse(base).rpartition(".")[2] for base in node.bases]
        for name in names:
            found |= {CALLS[one] for one in (name, name.rpartition(".")[2]) if one in CALLS}
    return found


def imports(tree: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def forbidden(tree: ast.Module) -> set[str]:
    found = {name for name in imports(tree) if any(f"{name}.".startswith(f"{never}.") for never in NEVER_IMPORTED)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = called(node)
        if name in NEVER_CALLED:
            found.add(name)
        wanted = {one.arg: ast.unparse(one.value) for one in node.keywords}
        if CALLS.get(name) == "torch" and wanted.get("weights_only") != "True":
            found.add(f"{name} without weights_only=True")
        if "allow_pickle" in wanted:
            found.add("allow_pickle")
    return found


def test_parsing_libraries_are_called_in_the_rooms_listed_and_nowhere_else() -> None:
    assert {name: used for name, tree in modules() if (used := frozenset(parsing(tree)))} == parsers.ROOMS


def test_nothing_reads_pickles_or_runs_what_it_reads() -> None:
    assert {name: wrong for name, tree in modules() if (wrong := forbidden(tree))} == {}


@pytest.mark.parametrize(("code", "name"), [
    ("from PIL import Image\nImage.open(x)", "Pillow"), ("import PIL.Image as pil\npil.open(x)", "Pillow"),
    ("import defusedxml.minidom\ndefusedxml.minidom.parseString(x)", "defusedxml"), ("class A(html.parser.HTMLParser): ...", "html.parser"),
    ("from json import loads\njson.loads(x)", "json"), ("sa.sqlite3.connect(x)", "sqlite3"),
])  # fmt: skip
def test_a_call_of_a_parsing_library_is_seen(code: str, name: str) -> None:
    assert parsing(ast.parse(code)) == {name}


@pytest.mark.parametrize("code", [
    "import pickle", "from pickle import loads", "import torch\ntorch.load(x)", "torch.load(x, weights_only=False)",
    "np.load(x)", "import numpy as np\nnp.fromfile(x, allow_pickle=True)", "eval(x)", "from xml.etree import ElementTree",
    "import xml.etree.ElementTree", "import zipfile", "import tarfile", "faiss.read_index(x)", "import shelve",
    "from xml.dom.minidom import parseString",
])  # fmt: skip
def test_what_must_not_be_is_seen(code: str) -> None:
    assert forbidden(ast.parse(code))


@pytest.mark.parametrize("parser", parsers.PARSERS, ids=lambda one: one.function)
def test_every_parser_is_there_and_has_its_target(parser: parsers.Parser) -> None:
    module, _, rest = parser.function.rpartition(".")
    names = [rest]
    while not (ROOT / f"{module.replace('.', '/')}.py").exists():
        module, _, above = module.rpartition(".")
        names.insert(0, above)
    found = importlib.import_module(f"refarchive.{module}")
    for name in names:
        found = getattr(found, name)
    assert callable(found)
    assert parser.reads
    assert parser.bound
    assert parser.targets
    assert set(parser.targets) <= set(TARGETS)
    assert not parser.error or hasattr(errors, parser.error)


def test_every_target_fuzzes_a_parser_of_the_table() -> None:
    assert {name for parser in parsers.PARSERS for name in parser.targets} == set(TARGETS)


def test_every_room_that_parses_what_is_others_has_a_parser_in_the_table() -> None:
    own = list(parsers.ROOMS)[list(parsers.ROOMS).index("demo") :]
    rooms = {name for name in parsers.ROOMS if name not in own}
    through = {
        "archive.planning",
        "encoders.builtin",
        "records.edtf_days",
        "sources.pdf_pages",
    }  # reached by those of the table
    listed = {module for module in rooms if any(one.function.startswith(f"{module}.") for one in parsers.PARSERS)}
    assert rooms - listed == through
