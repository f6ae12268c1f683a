"""The rooms' order: a room imports only from rooms above it, and each outside library stays in its rooms."""

import ast
from pathlib import Path

SRC = Path(__file__).resolve().parents[1] / "src" / "outgrown"

ORDER = [
    "__init__",
    "errors",
    "arrays",
    "standards",
    "practice",
    "units",
    "names",
    "findings",
    "progress",
    "faults",
    "sample",
    "geometry",
    "photo",
    "camera",
    "outline",
    "garment",
    "pieces",
    "lay",
    "paper",
    "drawer",
    "trace_findings",
    "steps",
    "lay_steps",
    "page",
    "cli",
    "__main__",
]
HOMES = {
    "cv2": {"photo", "camera", "outline"},
    "skimage": {"photo", "camera", "outline"},
    "shapely": {"geometry", "pieces", "lay"},
    "spyrrow": {"lay"},
    "svgwrite": {"paper"},
    "reportlab": {"paper"},
    "ezdxf": {"paper"},
    "filelock": {"drawer"},
    "platformdirs": {"drawer"},
    "click": {"cli"},
    "starlette": {"page"},
    "uvicorn": {"page"},
    "segno": {"page"},
}


def imports_of(path: Path) -> set[tuple[str, ...]]:
    found = set()
    package = ("outgrown", *path.relative_to(SRC).parts[:-1])
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {tuple(alias.name.split(".")) for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            parts = base + tuple(node.module.split(".") if node.module else ())
            found |= {(*parts, alias.name) for alias in node.names}
    return found


def test_rooms_import_only_from_rooms_above():
    wrong = []
    for path in SRC.rglob("*.py"):
        room = path.relative_to(SRC).parts[0].removesuffix(".py")
        for parts in imports_of(path):
            if parts[0] == "outgrown" and len(parts) > 1 and parts[1] in ORDER:
                other = parts[1]
                if other != room and ORDER.index(other) > ORDER.index(room):
                    wrong.append(f"{path.relative_to(SRC)} imports {'.'.join(parts)}")
    assert wrong == []


def test_outside_libraries_stay_in_their_rooms():
    wrong = []
    for path in SRC.rglob("*.py"):
        room = path.relative_to(SRC).parts[0].removesuffix(".py")
        for parts in imports_of(path):
            if parts[0] in HOMES and room not in HOMES[parts[0]]:
                wrong.append(f"{path.relative_to(SRC)} imports {parts[0]}")
    assert wrong == []


def test_the_library_never_prints():
    for path in SRC.rglob("*.py"):
        if "cli" not in path.relative_to(SRC).parts:
            names = {
                n.func.id
                for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
                if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
            }
            assert "print" not in names, path
