"""Every place in the package that puts text where it could be taken for something else, found in its source.

`found` reads the package's files and gives (file, kind) for each. Python is read as a syntax tree, so that neither
comments nor docstrings count; scripts, templates and Typst by their words.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import refarchive

ROOM = Path(refarchive.__file__).parent

# Python: what a call or a name is called, and which kind of outlet it is.
CALLS = {
    "markup": {"Markup", "mark_safe", "HTML", "display_html", "_repr_html_", "__html__", "Environment", "Template",
               "from_string", "toxml", "toprettyxml", "tostring", "createTextNode", "SubElement"},
    "csv": {"writer", "DictWriter", "to_csv"},
    "typst": {"compile", "Compiler"},
    "address": {"quote", "quote_plus", "urlencode", "urljoin"},
    "file name": {"file_name", "slug_of", "_slug"},
    "figure": {"set_title", "suptitle", "annotate", "set_yticks", "set_xlabel", "set_ylabel", "legend", "savefig"},
    "terminal": {"echo", "secho", "print", "tqdm", "set_postfix_str", "set_description"},
    "log": {"getLogger", "warn"},
}  # fmt: skip
OF = {"compile": "typst", "writer": "csv", "echo": "click", "secho": "click", "quote": ""}  # only as a part of these
MARKUP = re.compile(r"(?<!\?P)</?[A-Za-z][\w:.-]*(?=[\s/>])|<!(--|DOCTYPE)|<\?xml")

ENDINGS = "pdf|html?|json|csv|txt|md|jpe?g|png|tiff?|xml|svg|toml|typ|icc|zip|part|lock|db|sqlite|npy|f32"

SCRIPT = re.compile(
    r"\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write(ln)?|srcdoc|createContextualFragment|DOMParser|setHTML\w*|"
    r"cssText|javascript:|window\.open|location\.\w+\s*=|new Function|eval\s*\(|setTimeout\(\s*[\"'`]|import\s*\()"
)
TEMPLATE = re.compile(
    r"\|\s*(safe|forceescape|xmlattr|urlize|tojson)\b|autoescape|<script|\son\w+\s*=|\sstyle\s*=|javascript:"
)
TYPST = re.compile(
    r"\b(eval|raw|plugin|read|yaml|cbor|xml|csv|link|include)\s*\(|mode:\s*\"(markup|math|code)\"|#include"
)
UNSEEN = re.compile(r"\.(replaceChildren\(|textContent\s*=[^=]|innerText\s*=[^=])|createTextNode")  # past `visible`
QUOTED = re.compile(r'="[^"]*"')


def found() -> set[tuple[str, str]]:
    """Every outlet of the package, as file and kind."""
    places: set[tuple[str, str]] = set()
    for path in sorted(ROOM.rglob("*")):
        if path.is_file():
            name = path.relative_to(ROOM).as_posix()
            places |= {(name, kind) for kind in of_file(name, path)}
    return places


def of_file(name: str, path: Path) -> set[str]:
    """The kinds of outlet in one file."""
    if path.suffix not in (".py", ".js", ".j2", ".typ"):
        return set()
    text = path.read_text("utf-8")
    if path.suffix == ".py":
        return set(of_python(text))
    if path.suffix == ".js":
        bare = re.sub(r"^\s*//[^\n]*|/\*.*?\*/", "", text, flags=re.MULTILINE | re.DOTALL)
        return {kind for kind, those in (("script", SCRIPT), ("words, unseen", UNSEEN)) if those.search(bare)}
    if path.suffix == ".j2":
        bare = QUOTED.sub("", text)
        unquoted = re.search(r"<[^<>]*=\s*\{\{", bare)
        return {"template"} | ({"template, unescaped"} if TEMPLATE.search(text) or unquoted else set())
    return {"typst"} | ({"typst, as code"} if TYPST.search(re.sub(r"//.*", "", text)) else set())


def of_python(source: str) -> Iterator[str]:
    """The kinds of outlet in a Python module."""
    tree = ast.parse(source)
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # docstrings
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            if MARKUP.search(node.value):
                yield "markup"
        elif isinstance(node, ast.JoinedStr):
            yield from _of_parts(node)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div) and isinstance(node.right, ast.JoinedStr):
            yield "file name"
        elif isinstance(node, ast.FunctionDef) and node.name in CALLS["markup"]:
            yield "markup"
        elif isinstance(node, ast.Call):
            yield from _of_call(node)


def _of_parts(node: ast.JoinedStr) -> Iterator[str]:
    """A format string whose tag's name or attribute is put in: `<{name}>`."""
    whole = "".join(str(part.value) if isinstance(part, ast.Constant) else "\0" for part in node.values)
    if re.search(r"</?\0|<[a-z]+[^>]*\0", whole):
        yield "markup"
    if re.search(rf"\0\S*\.({ENDINGS})$", whole):
        yield "file name"


def _of_call(node: ast.Call) -> Iterator[str]:
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else called.id if isinstance(called, ast.Name) else ""
    owner = called.value.id if isinstance(called, ast.Attribute) and isinstance(called.value, ast.Name) else ""
    for kind, names in CALLS.items():
        if name in names and owner in ("", OF.get(name, owner)):
            yield kind
    if owner in ("tomli_w", "tomlkit") and name == "dumps":
        yield "toml"
    if owner in ("axes", "ax", "above", "below") and name == "text":
        yield "figure"
    if owner == "html" and name == "escape":
        yield "markup"
