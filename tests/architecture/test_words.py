"""What must not be found in the project's files, and what nobody may read as leave to go ahead."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
TEXT = {".py", ".md", ".toml", ".csv", ".js", ".css", ".html", ".geojson", ".json", ".txt", ""}
KEPT_OUT = {".git", ".venv", "outputs", "__pycache__"}

# Put together here, so that this file does not hold them.
MACHINE_PATHS = [rf"(?<![\w.])/{path}" for path in ("work/", "tmp/dev", "root/", "home/", "opt/wheels", "opt/pypi")]
REGISTRIES = [r"\.".join(host) for host in (("pypi", "org"), ("files", "pythonhosted"), ("registry", "npmjs"))]


def project_files() -> Iterator[Path]:
    for path in sorted(ROOT.rglob("*")):
        inside = path.relative_to(ROOT)
        hidden = any(part.startswith(".") and part != ".ci" for part in inside.parts)
        if path.is_file() and path.suffix in TEXT and not hidden and not KEPT_OUT & set(inside.parts):
            yield path


def test_no_file_names_a_path_of_one_machine_or_a_package_registry() -> None:
    files = list(project_files())
    assert len(files) > 20
    found = [
        f"{path.relative_to(ROOT)}: {word}"
        for path in files
        for word in (*MACHINE_PATHS, *REGISTRIES)
        if re.search(word, path.read_text(encoding="utf-8"))
    ]
    assert found == []


def spoken() -> Iterator[tuple[str, str]]:
    """Every text of the modules and templates that make what people read; docstrings, code and addresses left out."""
    for room in ("exports", "hazards", "quantities", "setout", "layout", "strength", "line", "inputs"):
        for path in sorted((ROOT / "fencegis" / room).rglob("*")):
            name, kind = str(path.relative_to(ROOT)), path.suffix
            if kind not in {".py", ".js", ".html"}:
                continue
            text = path.read_text(encoding="utf-8")
            for found in (
                _strings(ast.parse(text)) if kind == ".py" else QUOTED.findall(text) if kind == ".js" else [text]
            ):
                yield name, found
    for path in sorted((ROOT / "fencegis" / "catalogue").glob("*.csv")):
        yield (
            str(path.relative_to(ROOT)),
            re.sub(r"\S+://\S+|\b[\w.-]+\.(org|com|au|gov)/\S*", "", path.read_text(encoding="utf-8")),
        )


QUOTED = re.compile(r"""(?:"[^"\n]*"|'[^'\n]*'|`[^`]*`)""")


def _strings(tree: ast.AST) -> Iterator[str]:
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            yield node.value


# A word that reads as leave to go ahead, and the few places where it is something else.
LEAVE = re.compile(r"\b(clear|safe|safely|safety|permitted|permission|allowed|harmless)\b", re.IGNORECASE)
SOMETHING_ELSE = re.compile(
    r"clear between|[Cc]lear opening|not a permit\w*|safe work method"  # of a gate; the document a site asks for
    r"|[Ss]afety ([Ss]tandard|[Rr]egulation|and [Hh]ealth|& Health)\w*|Electrical Safety"  # titles
    r"|Safe(ty)? Work|Work(place)? Safe\w*"  # the names of regulators
)


def test_nothing_that_people_read_gives_leave() -> None:
    texts = list(spoken())
    assert len(texts) > 50
    said = [
        f"{name}: …{text[max(0, hit.start() - 40) : hit.end() + 40]}…"
        for name, whole in texts
        if whole != "clear"  # the value of the column `status`, which scripts read
        for text in [SOMETHING_ELSE.sub("", whole)]
        for hit in LEAVE.finditer(text)
    ]
    assert said == []


@pytest.mark.parametrize("room", ["exports"])
def test_no_green_in_pictures_and_pages(room: str) -> None:
    """Green reads as "go ahead"."""
    greens = []
    for path in sorted((ROOT / "fencegis" / room).rglob("*")):
        if path.suffix not in {".py", ".js", ".css", ".html"}:
            continue
        text = path.read_text(encoding="utf-8")
        for found in re.findall(r"#([0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b", text):
            red, green, blue = (
                int(part * (2 if len(part) == 1 else 1), 16)
                for part in re.findall("..?" if len(found) == 6 else ".", found)
            )
            if green > red + 16 and green > blue + 16:
                greens.append(f"{path.relative_to(ROOT)}: #{found}")
        greens += [
            f"{path.relative_to(ROOT)}: {word}" for word in re.findall(r"[\"':]\s*(\w*green|lime|olive|teal)\b", text)
        ]
    assert greens == []
