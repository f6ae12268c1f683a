"""Archive: a pattern as one readable JSON file, and back."""

import json
import math
from dataclasses import fields, replace
from typing import Any

import numpy as np

from .. import __version__
from ..arrays import Floats, frozen
from ..errors import ArchiveError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Measurement
from ..geometry.polylines import length_mm
from ..pieces.choices import Choices
from ..pieces.fabric import Fabric, FabricRow
from ..pieces.girths import measure_leg_girths
from ..pieces.growth import GrowthRow
from ..pieces.matching import JoinedCorner, WalkedSeam
from ..pieces.piece import CutListRow, Finish, InnerLine, Notch, Pattern, Piece, SeamEdge
from .plausible import checked, fits, read_amount, read_points
from .upgrading import NEWEST, upgrade_document

SCHEMA = "outgrown-pattern"
VERSION = NEWEST
_DECIMALS = 4


def write_pattern_json(pattern: Pattern) -> str:
    """Return `pattern` as JSON text, schema `outgrown-pattern/2`, lengths in mm rounded to 0.0001.

    Reading it back and writing again gives the same text. See docs/pattern-json.md.
    """
    pattern = _rounded(pattern)
    document = {
        "schema": f"{SCHEMA}/{VERSION}",
        "units": "mm",
        "written_by": f"outgrown {__version__}",
        "title": pattern.title,
        "for_whom": pattern.for_whom,
        "made_on": pattern.made_on,
        "choices": pattern.choices,
        "measurements": [_measurement_json(m) for m in pattern.measurements],
        "girth_mm": [list(row) for row in _girths(pattern)],
        "pieces": [_piece_json(piece) for piece in pattern.pieces],
        "cut_list": [
            {
                "name": row.name,
                "quantity": row.quantity,
                "length_mm": row.length_mm,
                "width_mm": row.width_mm,
                "material": row.material,
                "note": row.note,
            }
            for row in pattern.cut_list
        ],
        "outline_mm": pattern.outline_mm,
        "expected_error_mm": {"median": pattern.expected_error_mm[0], "p95": pattern.expected_error_mm[1]},
        "provenance": pattern.provenance,
        "findings": [_finding_json(finding) for finding in pattern.findings],
    }
    return _text(_plain(document)) + "\n"


def read_pattern_json(text: str) -> Pattern:
    """Return the pattern written in `text` by `write_pattern_json`, of this schema or an older one.

    Raises:
        ArchiveError: not JSON, not a pattern, a newer schema, or a part is missing.
    """
    try:
        document = json.loads(text, parse_constant=_refuse, parse_float=_finite)
    except (ValueError, RecursionError) as error:
        raise ArchiveError("This file is not a pattern: it is not JSON.", "Give a pattern.json.") from error
    if not isinstance(document, dict) or not str(document.get("schema", "")).startswith(f"{SCHEMA}/"):
        raise ArchiveError("This JSON file is not a pattern.", "Give a pattern.json.")
    version = str(document["schema"]).partition("/")[2]
    if not version.isdecimal() or int(version) < 1:
        raise ArchiveError(f"This pattern's schema “{document['schema']}” is not known.", "Give a pattern.json.")
    if int(version) > VERSION:
        raise ArchiveError(
            f"This pattern was kept by a newer outgrown (its schema is {document['schema']}).",
            "Bring outgrown up to date and try again; the file is unharmed.",
        )
    try:
        return _pattern(upgrade_document(document, int(version)))
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        what = f"“{error.args[0]}”" if isinstance(error, KeyError) else "a part of it"
        raise ArchiveError(
            f"This pattern is damaged: {what} is missing or wrong.", "Read it from a copy, or take the photo again."
        ) from error


def _round(points_mm: Floats) -> Floats:
    return frozen(np.round(points_mm, _DECIMALS))


def _rounded(pattern: Pattern) -> Pattern:
    """Return the pattern with its lines rounded, so that what is derived from them comes out the same again."""
    pieces = tuple(
        replace(
            piece,
            edges=tuple(replace(edge, points_mm=_round(edge.points_mm)) for edge in piece.edges),
            cut_ring_mm=_round(piece.cut_ring_mm),
        )
        for piece in pattern.pieces
    )
    return replace(pattern, pieces=pieces)


def _girths(pattern: Pattern) -> list[tuple[float, float]]:
    return measure_leg_girths(pattern.pieces)


def _plain(value: Any) -> Any:
    """Return `value` as JSON values, every float rounded once, minus nought made nought."""
    if isinstance(value, np.ndarray):
        if not np.isfinite(value).all():
            raise ValueError("A number in the pattern is not finite.")
        return (np.round(value.astype(np.float64), _DECIMALS) + 0.0).tolist()
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool) or value is None or isinstance(value, int | str):
        return value if isinstance(value, bool | int) or value is None else str(value)
    if isinstance(value, np.integer):
        return int(value)
    number = round(float(value), _DECIMALS)
    if not np.isfinite(number):
        raise ValueError("A number in the pattern is not finite.")
    return number + 0.0


def _text(value: Any, indent: str = "") -> str:
    """Return JSON with one point of a ring, or one row of a table, on a line."""
    deeper = indent + " "
    if isinstance(value, dict) and value:
        rows = [f"{deeper}{json.dumps(k, ensure_ascii=False)}: {_text(v, deeper)}" for k, v in value.items()]
        return "{\n" + ",\n".join(rows) + "\n" + indent + "}"
    if isinstance(value, list) and value and any(isinstance(v, dict | list) for v in value):
        if all(type(v) is list and len(v) == 2 and type(v[0]) is type(v[1]) is float for v in value):
            return "[\n" + ",\n".join(f"{deeper}[{x!r}, {y!r}]" for x, y in value) + "\n" + indent + "]"
        return "[\n" + ",\n".join(deeper + _text(v, deeper) for v in value) + "\n" + indent + "]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _measurement_json(measurement: Measurement) -> dict[str, Any]:
    return {
        "name": measurement.name,
        "value_mm": measurement.value_mm,
        "doubt_mm": measurement.doubt_mm,
        "how": measurement.how,
    }


def _finding_json(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "text": finding.text,
        "advice": finding.advice,
        "severity": str(finding.severity),
        "place": finding.place,
        "amount_mm": finding.amount_mm,
    }


def _piece_json(piece: Piece) -> dict[str, Any]:
    return {
        "name": piece.name,
        "quantity": piece.quantity,
        "labels": list(piece.labels),
        "seam_ring_mm": np.vstack([edge.points_mm[:-1] for edge in piece.edges]),
        "cut_ring_mm": piece.cut_ring_mm,
        "edges": [
            {
                "name": str(edge.name),
                "part": edge.part,
                "finish": str(edge.finish),
                "allowance_mm": edge.allowance_mm,
                "length_mm": length_mm(edge.points_mm),
                "points_mm": edge.points_mm,
            }
            for edge in piece.edges
        ],
        "grainline_mm": piece.grainline_mm,
        "stretch_mm": piece.stretch_mm,
        "notches": [
            {
                "point_mm": notch.point_mm,
                "outward": notch.outward,
                "depth_mm": notch.depth_mm,
                "is_double": notch.is_double,
            }
            for notch in piece.notches
        ],
        "inner_lines": [{"name": line.name, "points_mm": line.points_mm} for line in piece.inner_lines],
    }


def _known(kind: type, values: dict[str, Any]) -> dict[str, Any]:
    """Return the values that the dataclass `kind` has a field for; files may hold more."""
    names = {field.name for field in fields(kind)}
    return {name: value for name, value in values.items() if name in names}


def _refuse(word: str) -> float:
    raise ValueError(word)


def _finite(digits: str) -> float:
    number = float(digits)
    return number if math.isfinite(number) else _refuse(digits)


def _pattern(document: dict[str, Any]) -> Pattern:
    error = document["expected_error_mm"]
    _check_choices(document["choices"])
    _check_provenance(document["provenance"])
    json.dumps(document, ensure_ascii=False).encode("utf-8")  # half of a letter could not be written again
    return Pattern(
        title=str(document["title"]),
        for_whom=str(document["for_whom"]),
        made_on=str(document["made_on"]),
        pieces=tuple(_piece(piece) for piece in document["pieces"]),
        cut_list=tuple(checked(CutListRow(**_known(CutListRow, row))) for row in document["cut_list"]),
        measurements=tuple(checked(Measurement(**_known(Measurement, m))) for m in document["measurements"]),
        choices=dict(document["choices"]),
        outline_mm=read_points(document["outline_mm"], 0),
        expected_error_mm=(read_amount(error["median"]), read_amount(error["p95"])),
        provenance=dict(document["provenance"]),
        findings=tuple(
            checked(Finding(**{**_known(Finding, values), "severity": Severity(values["severity"])}))
            for values in document["findings"]
        ),
    )


def _check_choices(choices: dict[str, Any]) -> None:
    """Raise where what is drawn, grown or told from the choices later could not be; see `_pattern`."""
    checked(Choices.from_json(choices))
    grown, cloth = (choices.get(name) or {} for name in ("grown", "fabric"))
    nested = choices.get("grown_sizes") or {}
    checked(Fabric.from_json(cloth))
    if not fits(nested, dict[str, dict[str, Any]]) or not fits(choices.get("nested") or [], list[str]):
        raise TypeError("nested")
    _check_rows(FabricRow, cloth)
    for one in (grown, *nested.values()):
        _check_rows(GrowthRow, one)
        lengths = {name: value for name, value in one.items() if name.endswith("_mm")}
        if not (fits(lengths, dict[str, float | None]) and fits(one.get("walked") or {}, dict[str, float])):
            raise TypeError("grown")


def _check_rows(kind: type, tables: dict[str, Any]) -> None:
    for row in (*(tables.get("sizes") or ()), *(tables.get("body") or ())):
        _check_row(kind, row)


def _check_row(kind: type, row: dict[str, Any]) -> None:
    """Raise where a row of a table is not one, or lacks a field."""
    checked(kind(**{field.name: row[field.name] for field in fields(kind)}))


def _check_provenance(provenance: dict[str, Any]) -> None:
    for kind, name in ((WalkedSeam, "walked"), (JoinedCorner, "joined_corners")):
        for row in provenance.get(name) or ():
            _check_row(kind, row)
    if not fits(provenance.get("rise_mm") or {}, dict[str, float]) or not fits(
        provenance.get("taken") or {}, dict[str, Any]
    ):
        raise TypeError("provenance")


def _piece(values: dict[str, Any]) -> Piece:
    if not values["edges"]:
        raise ValueError("edges")
    return Piece(
        name=str(values["name"]),
        edges=tuple(
            SeamEdge(
                EdgeName(edge["name"]),
                read_points(edge["points_mm"]),
                read_amount(edge["allowance_mm"]),
                Finish(edge["finish"]),
                str(edge.get("part", "")),
            )
            for edge in values["edges"]
        ),
        cut_ring_mm=read_points(values["cut_ring_mm"], 3),
        quantity=str(values["quantity"]),
        grainline_mm=read_points(values["grainline_mm"]),
        stretch_mm=read_points(values["stretch_mm"]),
        notches=tuple(
            Notch(
                read_points([notch["point_mm"]], 1)[0],
                read_points([notch["outward"]], 1)[0],
                read_amount(notch["depth_mm"]),
                bool(notch["is_double"]),
            )
            for notch in values["notches"]
        ),
        inner_lines=tuple(InnerLine(str(i["name"]), read_points(i["points_mm"])) for i in values["inner_lines"]),
        labels=tuple(str(label) for label in values["labels"]),
    )
