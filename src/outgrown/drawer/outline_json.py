"""The outline as JSON: the contract others build on, schema `outgrown-outline/1`. See docs/outline-json.md."""

import json
from collections.abc import Sequence

import numpy as np

from ..arrays import Floats
from ..camera.camera import Camera
from ..camera.reference import Reference
from ..findings import Finding, Severity
from ..garment.garment import Measurement
from ..outline.hints import describe_hints
from ..outline.outline import Outline
from ..outline.pulling import describe_pulls

SCHEMA = "outgrown-outline/1"


def write_outline_json(
    *,
    outline: Outline,
    references: Sequence[Reference],
    camera: Camera,
    focal_px: float | None,
    expected_error_mm: tuple[float, float],
    findings: Sequence[Finding],
    measurements: Sequence[Measurement] = (),
) -> str:
    """Return the outline as JSON text.

    Args:
        outline: in millimetres and pixels.
        references: those the scale rests on.
        camera: solved.
        focal_px: focal length known from the file or a profile [px]; None when it had to be guessed.
        expected_error_mm: (median, p95) [mm].
        measurements: taken from the outline; `plus_minus_mm` is half of the 95 % band.
        findings: warnings go to `warnings` as sentences, all of them to `findings`.
    """
    document = {
        "schema": SCHEMA,
        "units": "mm",
        "outline_mm": _points(outline.ring_mm, 3),
        "holes_mm": [_points(hole, 3) for hole in outline.holes_mm],
        "outline_px": _points(outline.ring_px, 2),
        "hints": describe_hints(outline.hints),
        "pulled": describe_pulls(outline.pulls),
        "references": [{"kind": str(r.kind), "corners_px": _points(r.corners_px, 2)} for r in references],
        "focal_px": None if focal_px is None else round(camera.lens.focal_px, 2),
        "tilt_deg": round(camera.tilt_deg, 2),
        "expected_error_mm": {"median": round(expected_error_mm[0], 3), "p95": round(expected_error_mm[1], 3)},
        "warnings": [f.sentence() for f in findings if f.severity is Severity.WARNING],
        "measurements": [
            {
                "name": m.name,
                "value_mm": round(m.value_mm, 2),
                "plus_minus_mm": None if m.doubt_mm is None else round(m.doubt_mm, 2),
                "how": m.how,
            }
            for m in measurements
        ],
        "error_mm": np.round(outline.error_mm, 3).tolist(),
        "confidence": np.round(outline.confidence, 2).tolist(),
        "findings": [
            {"code": f.code, "severity": str(f.severity), "text": f.text, "advice": f.advice, "place": f.place}
            for f in findings
        ],
    }
    return json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n"


def _points(points: Floats, digits: int) -> list[list[float]]:
    rounded: list[list[float]] = np.round(points, digits).tolist()
    return rounded
