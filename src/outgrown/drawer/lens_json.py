"""A lens profile as JSON, schema `outgrown-lens/1`. See docs/lens.md."""

import json
import math
from typing import Any

from ..camera.profile import Doubts, LensError, LensProfile

SCHEMA = "outgrown-lens/1"
_AGAIN = "Make it again with “outgrown lens”."


def write_lens_json(profile: LensProfile) -> str:
    """Return the profile as JSON text."""
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "width_px": profile.width_px,
        "height_px": profile.height_px,
        "focal_px": round(profile.focal_px, 4),
        "centre_px": [round(value, 4) for value in profile.centre_px],
        "distortion": [round(value, 9) for value in profile.distortion],
        "quarter_turns": profile.quarter_turns,
        "make": profile.make,
        "model": profile.model,
        "focal_mm": profile.focal_mm,
        "focal_35_mm": profile.focal_35_mm,
        "photos": profile.photos,
        "doubts": {
            "focal": round(profile.doubts.focal, 7),
            "centre_px": round(profile.doubts.centre_px, 4),
            "k1": round(profile.doubts.k1, 7),
            "residual_px": round(profile.doubts.residual_px, 4),
        },
    }
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def read_lens_json(text: str, name: str = "lens profile") -> LensProfile:
    """Return the profile in JSON `text`.

    Args:
        text: schema `outgrown-lens/1`; only the six fields of the lens itself are needed.
        name: of the file, for messages.

    Raises:
        LensError: it is not a lens profile, or its values cannot be those of a lens.
    """
    try:
        document = json.loads(text)
        schema = document["schema"]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise LensError(f"“{name}” is not a lens profile.", _AGAIN) from None
    if schema != SCHEMA:
        raise LensError(f"“{name}” has the schema “{schema}”; this program reads “{SCHEMA}”.", _AGAIN)
    try:
        width, height = int(document["width_px"]), int(document["height_px"])
        focal = float(document["focal_px"])
        cx, cy = (float(value) for value in document["centre_px"])
        terms = [float(value) for value in document["distortion"]]
        doubts = document.get("doubts") or {}
        profile = LensProfile(
            width_px=width,
            height_px=height,
            focal_px=focal,
            centre_px=(cx, cy),
            distortion=(terms[0], terms[1], terms[2], terms[3], terms[4]),
            quarter_turns=turns if (turns := document.get("quarter_turns")) in (0, 1, 2, 3) else None,
            make=str(document.get("make") or ""),
            model=str(document.get("model") or ""),
            focal_mm=_number(document.get("focal_mm")),
            focal_35_mm=_number(document.get("focal_35_mm")),
            doubts=Doubts(**{key: float(doubts.get(key, 0.0)) for key in ("focal", "centre_px", "k1", "residual_px")}),
            photos=int(document.get("photos") or 0),
        )
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError):
        raise LensError(f"“{name}” is a lens profile with a part missing or broken.", _AGAIN) from None
    numbers = [focal, cx, cy, *terms, *vars(profile.doubts).values()]
    is_lens = (
        len(terms) == 5
        and all(math.isfinite(number) for number in numbers)
        and min(width, height) > 0
        and 0.2 < focal / max(width, height) < 20
        and 0 < cx < width
        and 0 < cy < height
        and max(abs(term) for term in terms[:4]) < 2
    )
    if not is_lens:
        raise LensError(f"“{name}” describes a lens that cannot be.", _AGAIN)
    return profile


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
