"""The lay as JSON, schema `outgrown-lay/1`: every placed ring in millimetres."""

import json
from typing import Any

import numpy as np

from .. import __version__
from ..lay.cloth import Bolt, Cloth
from ..lay.lay import Lay
from ..lay.placing import Placed

SCHEMA = "outgrown-lay/1"


def write_lay_json(lay: Lay) -> str:
    """Return the lay as JSON text; lengths in mm, x along cloth off the roll, y up."""
    values: dict[str, Any] = {
        "schema": SCHEMA,
        "program": f"outgrown {__version__}",
        "fits": lay.fits,
        "cloth": _cloth(lay.cloth),
        "rules": {
            "gap_mm": lay.rules.gap_mm,
            "grain_tolerance_deg": lay.rules.grain_tolerance_deg,
            "one_way": lay.rules.is_one_way,
            "stretch": str(lay.rules.stretch),
            "search_number": lay.rules.seed,
        },
        "pieces": [_placed(one) for one in lay.placed],
        "missing": [
            {"number": item.part.number, "name": item.part.name, "pattern": item.part.title} for item in lay.missing
        ],
        "offers": [{"change": offer.change, "gain": offer.gain} for offer in lay.offers],
        "findings": [{"code": f.code, "text": f.text, "advice": f.advice} for f in lay.findings],
    }
    if isinstance(lay.cloth, Bolt):
        values["length_mm"] = round(lay.length_mm, 2)
        values["buy_mm"] = round(lay.bought_mm, 2)
        values["buy_yard_mm"] = round(lay.bought_yard_mm, 2)
    values["used_share"] = round(lay.used_share, 4)
    return json.dumps(values, indent=1, ensure_ascii=False) + "\n"


def _cloth(cloth: Cloth) -> dict[str, Any]:
    if isinstance(cloth, Bolt):
        return {
            "kind": "folded" if cloth.is_folded else "single",
            "width_mm": cloth.width_mm,
            "lying_mm": cloth.lying_mm,
            "selvedge_mm": cloth.selvedge_mm,
        }
    return {
        "kind": "shirt" if cloth.layers == 2 else "leftover",
        "ring_mm": _points(cloth.ring_mm),
        "holes_mm": [_points(hole) for hole in cloth.holes_mm],
        "margin_mm": round(cloth.margin_mm, 3),
        "grain_deg": round(cloth.grain_deg, 3),
        "layers": cloth.layers,
        "hem_mm": None if cloth.hem_mm is None else _points(cloth.hem_mm),
    }


def _placed(one: Placed) -> dict[str, Any]:
    return {
        "number": one.item.part.number,
        "name": one.item.part.name,
        "pattern": one.item.part.title,
        "copy": one.item.copy,
        "gives": one.item.gives,
        "mirrored": one.is_mirrored,
        "on_fold": one.item.on_fold,
        "turned_deg": round(one.turn_deg, 4),
        "ring_mm": _points(one.ring_mm),
    }


def _points(points_mm: Any) -> list[list[float]]:
    rounded: list[list[float]] = np.round(np.asarray(points_mm), 3).tolist()
    return rounded
