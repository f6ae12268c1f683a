"""Growing: the next size of a kept pattern. Lengths and girths grow apart."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields, replace

import numpy as np
from scipy.optimize import brentq

from ..arrays import Floats
from ..errors import PieceError
from ..findings import Finding
from ..garment.garment import EdgeName, Measurement
from ..geometry.polylines import length_mm
from ..practice import ELASTIC_OVERLAP_MM, ELASTIC_SHARE_OF_WAIST, FOLDED_BAND_SHORTER_MM, HIP_BELOW_WAIST_MM
from .band_pieces import is_band, read_band_seams, refit_bands
from .fabric import Fabric, check_hips, cut_length
from .growth import Growth, GrowthRow, Plan, plan_growth
from .leg_shape import (
    LegChange,
    LegSizes,
    blend_ratios,
    change_leg,
    compare_openings,
    is_leg,
    measure_leg,
    measure_opening_mm,
)
from .piece import CutListRow, Pattern, Piece
from .reshaping import is_inseam, renew_note, reshape_piece
from .unused import NOT_USED, say_unused


def grow_pattern(pattern: Pattern, growth: Growth, *, for_whom: str | None = None, made_on: str = "") -> Pattern:
    """Return the next size of a kept pattern.

    Args:
        pattern: with a leg, or another garment's outline (then widened and lengthened as a whole).
        growth: what is known.
        for_whom: for whom or which size; None = said by the growth where it can be.
        made_on: ISO date of the new one.

    Raises:
        PieceError: too little is known, or the change is too great for the shape.
    """
    shrink_long, shrink_wide = shrinkage_of(pattern)
    waist = pattern.choices.get("waist_mm")
    growth = _with_known(growth, pattern)
    if not any(is_leg(piece) for piece in pattern.pieces):
        if growth.inseam_mm is not None:
            raise PieceError("This pattern has no legs, and so no inseam.", "Say how much longer it shall be instead.")
        plan = plan_growth(growth, 0.0, waist)
        pieces = tuple(_grow_outline(piece, plan, growth.longer_mm, shrink_long) for piece in pattern.pieces)
        rows: tuple[GrowthRow, ...] = ()
        changes = {}
        hem = plan.hip
    else:
        before = measure_leg(pattern.pieces)
        cuff = cuff_height_mm(pattern)
        plan = plan_growth(growth, before.inseam * (1.0 - shrink_long) + cuff, waist)
        pieces = tuple(_grow_piece(piece, plan, shrink_long) for piece in pattern.pieces)
        after = measure_leg(pieces)
        rows = _size_rows(before, after, plan, shrink_long, shrink_wide)
        changes = _measured_changes(before, after, shrink_long, shrink_wide)
        hem = after.hem / before.hem
    cut_list = _grow_cut_list(pattern, plan, opening=compare_openings(pattern.pieces, pieces, plan.waist), hem=hem)
    pieces = refit_bands(pieces, cut_list)
    whom = for_whom if for_whom is not None else _say_for_whom(pattern, plan)
    grown = {
        **growth.as_json(),
        "from": {"for_whom": pattern.for_whom, "made_on": pattern.made_on},
        "sizes": [asdict(row) for row in rows],
        "body": [asdict(row) for row in plan.body],
    }
    apart = walk_joins(pieces)
    if apart:
        grown["walked"] = apart
    if plan.height_now_mm is not None:
        grown |= {"height_then_mm": plan.height_then_mm, "height_now_mm": plan.height_now_mm}
    choices = {**pattern.choices, "for_whom": whom, "date": made_on, "grown": grown}
    fabric = _grown_fabric(pattern, growth, plan)
    if fabric is not None:
        choices["fabric"] = {**fabric.as_json(), "sizes": []}
    if plan.waist_now_mm is not None and waist is not None:
        choices["waist_mm"] = plan.waist_now_mm
    pieces = tuple(replace(piece, labels=_new_labels(piece.labels, pattern, whom, made_on)) for piece in pieces)
    bigger = replace(
        pattern,
        for_whom=whom,
        made_on=made_on,
        pieces=pieces,
        cut_list=cut_list,
        measurements=tuple(_grown_measurement(m, changes) for m in pattern.measurements),
        choices=choices,
        findings=(
            *(f for f in pattern.findings if f.code not in _OWN_CODES),
            *plan.findings,
        ),
    )
    own = (*_check_waist(bigger, plan), *(check_hips(bigger, fabric) if fabric else ()), *_unused(pattern, growth))
    return replace(bigger, findings=(*bigger.findings, *own))


_LEAST_LONG = 0.5
"""A garment without legs is shortened to no less than this share of its length."""
_BAND_LONGER_MM = 5.0
"""A waistband may be so much longer than the edge it is sewn to before it is said."""
_OWN_CODES = (
    NOT_USED,
    "would-help-most",
    "girths-estimated",
    "height-outside-survey",
    "height-outside-chart",
    "waist-edge-shorter-than-elastic",
    "band-longer-than-waist-edge",
    "cannot-pass-hips",
    "hip-stretch-unknown",
)


def _grown_fabric(pattern: Pattern, growth: Growth, plan: Plan) -> Fabric | None:
    """Return what is known of the cloth, with the body's girths as they are now; None where nothing is."""
    if not pattern.choices.get("fabric"):
        return None
    kept = Fabric.from_json(pattern.choices["fabric"])
    hip = growth.hip_now_mm or (kept.hip_mm * plan.hip if kept.hip_mm else None)
    return replace(kept, waist_mm=plan.waist_now_mm, hip_mm=hip, thigh_mm=None, knee_mm=None, hem_mm=None)


def _unused(pattern: Pattern, growth: Growth) -> list[Finding]:
    """Say that a waist was measured for what has no waist edge."""
    has_waist = measure_opening_mm(pattern.pieces) is not None
    idle = growth.waist_now_mm is not None and not has_waist
    return say_unused([(idle, "The waist now (--waist)", "this pattern has no waist edge")])


def _check_waist(pattern: Pattern, plan: Plan) -> list[Finding]:
    """Say again, in the new size's numbers, that elastic or waistband is longer than the waist edge."""
    opening = measure_opening_mm(pattern.pieces)
    if plan.waist_now_mm is None or opening is None:
        return []
    for row in pattern.cut_list:
        if row.length_mm is None:
            continue
        if "waistband" in row.name:
            seam = next((e.allowance_mm for p in pattern.pieces for e in p.edges if e.name is EdgeName.WAIST), 0.0)
            longer = row.length_mm - 2 * seam - opening
            if longer > _BAND_LONGER_MM:
                return [
                    Finding(
                        "band-longer-than-waist-edge",
                        f"The waistband is {longer:.0f} mm longer than the waist edge.",
                        "Cut a shorter band, or measure waist and hip again.",
                        place="waist",
                        amount_mm=longer,
                    )
                ]
        elif "elastic" in row.name:
            opening *= 1.0 - shrinkage_of(pattern)[1]  # elastic does not shrink with the cloth
            longer = plan.waist_now_mm * ELASTIC_SHARE_OF_WAIST.value - opening
            if longer > 0.0:
                return [
                    Finding(
                        "waist-edge-shorter-than-elastic",
                        f"The waist edge is {opening / 10:.1f} cm round, shorter than the elastic.",
                        "If it lay gathered in the photo, make the pattern again with the waist pulled out flat.",
                        place="waist",
                        amount_mm=longer,
                    )
                ]
    return []


def walk_joins(pieces: Sequence[Piece]) -> dict[str, float]:
    """Return how much longer the longest of the seams sewn together is than the shortest, by name [mm].

    Only seams of different lines are there: a leg on the fold is sewn to itself.
    """
    legs = [piece for piece in pieces if is_leg(piece)]
    apart = {}
    for word, edges in (
        ("inseam", [e.points_mm for leg in legs for e in leg.edges if is_inseam(e.name)]),
        ("side", [e.points_mm for leg in legs for e in leg.edges if e.name is EdgeName.SIDE]),
    ):
        if len(edges) > 1:
            lengths = [length_mm(line) for line in edges]
            apart[word] = max(lengths) - min(lengths)
    return apart


def shrinkage_of(pattern: Pattern) -> tuple[float, float]:
    """Return by what share the pattern's cloth is expected to shrink, lengthwise and crosswise."""
    fabric = pattern.choices.get("fabric") or {}
    return float(fabric.get("shrink_long") or 0.0), float(fabric.get("shrink_wide") or 0.0)


def cuff_height_mm(pattern: Pattern) -> float:
    """Return the finished height of the cuffs sewn to the legs [mm]; 0 where there are none."""
    hems = [e.allowance_mm for piece in pattern.pieces for e in piece.edges if e.name is EdgeName.HEM]
    for row in pattern.cut_list:
        if "cuff" in row.name and row.width_mm is not None and hems:
            return 0.5 * row.width_mm - hems[0]
    return 0.0


def _with_known(growth: Growth, pattern: Pattern) -> Growth:
    """Return the growth, with the height and hip the pattern itself was grown for where they are not given."""
    last = pattern.choices.get("grown") or {}
    fabric = pattern.choices.get("fabric") or {}
    if growth.height_then_mm is None and growth.height_now_mm is not None and growth.age_then_months is None:
        growth = replace(growth, height_then_mm=last.get("height_now_mm"))
    if growth.hip_then_mm is None and growth.hip_now_mm is not None:
        growth = replace(growth, hip_then_mm=last.get("hip_now_mm") or fabric.get("hip_mm"))
    return growth


def _say_for_whom(pattern: Pattern, plan: Plan) -> str:
    if plan.height_now_mm is None:
        return pattern.for_whom
    name = pattern.for_whom.partition(",")[0].strip()
    height = f"{plan.height_now_mm / 10:.0f} cm"
    return f"{name}, {height}" if name and not name[0].isdigit() else height


def _new_labels(labels: tuple[str, ...], pattern: Pattern, whom: str, made_on: str) -> tuple[str, ...]:
    """Return a piece's lines with for whom and when brought up to date."""
    old = pattern.for_whom
    swaps = {old: whom, f"for {old}": f"for {whom}", pattern.made_on: made_on}
    return tuple(line for line in (swaps.get(label, label) if label else label for label in labels) if line)


def _grow_piece(piece: Piece, plan: Plan, shrink_long: float) -> Piece:
    if not is_leg(piece):
        return piece
    inseams = [edge.points_mm for edge in piece.edges if is_inseam(edge.name)]
    leg, rise = plan.leg_mm / (1.0 - shrink_long), plan.rise_mm / (1.0 - shrink_long)
    girths = LegChange(rise_mm=rise, waist=plan.waist, hip=plan.hip, thigh=plan.hip, knee=plan.hip, hem=plan.hip)

    def lengths(spread: float, tilt: float) -> list[float]:
        change = replace(girths, calf_mm=0.5 * spread, thigh_mm=0.5 * spread, tilt_mm=tilt)
        move = change_leg(piece, change)
        return [length_mm(move(line)) for line in inseams]

    target = _mean([length_mm(line) for line in inseams]) + leg
    widest = abs(leg) + 60.0
    lowest = -min(widest, 0.33 * _mean([float(line[:, 1].max() - line[:, 1].min()) for line in inseams]))
    try:
        spread = float(brentq(lambda d: _mean(lengths(d, 0.0)) - target, lowest, widest, xtol=1e-4))
    except ValueError as error:
        raise PieceError(f"The inseam cannot become {target:.0f} mm long.", "Choose a smaller change.") from error
    tilt = 0.0
    if len(inseams) == 2:
        right_first = inseams[0][:, 0].max() > inseams[1][:, 0].max()
        was = length_mm(inseams[0]) - length_mm(inseams[1])

        def apart(tilt_mm: float) -> float:
            one, other = lengths(spread, tilt_mm)
            return (one - other - was) * (1.0 if right_first else -1.0)

        tilt = float(brentq(apart, -15.0, 15.0, xtol=1e-5)) if apart(-15.0) * apart(15.0) < 0 else 0.0
    change = replace(girths, calf_mm=0.5 * spread, thigh_mm=0.5 * spread, tilt_mm=tilt)
    return reshape_piece(piece, change_leg(piece, change))


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _grow_outline(piece: Piece, plan: Plan, longer_mm: float | None, shrink_long: float) -> Piece:
    """Return another garment's piece, widened like the hip and lengthened like the height; bands as they are.

    A waist edge grows like the waist, down to the hip it goes over to the hip's share. So much longer, as asked,
    outranks the height.
    """
    if is_band(piece):
        return piece
    y = np.concatenate([edge.points_mm[:, 1] for edge in piece.edges])
    low, high = float(y.min()), float(y.max())
    long = plan.height_now_mm / plan.height_then_mm if plan.height_now_mm and plan.height_then_mm else 1.0
    if longer_mm is not None:
        long = 1.0 + longer_mm / (1.0 - shrink_long) / (high - low)
    if long < _LEAST_LONG:
        raise PieceError(
            f"The {piece.name} cannot be made {(1.0 - long) * (high - low):.0f} mm shorter.", "Choose a smaller change."
        )
    waists = [edge.points_mm[:, 1].min() for edge in piece.edges if edge.name is EdgeName.WAIST]
    waist = float(min(waists, default=high))
    hip = waist - min(HIP_BELOW_WAIST_MM.value, 0.6 * (waist - low))
    levels, ratios = np.array([hip, waist]), np.array([plan.hip, plan.waist if waists else plan.hip])

    def move(points: Floats) -> Floats:
        return np.column_stack([points[:, 0] * blend_ratios(points[:, 1], levels, ratios), points[:, 1] * long])

    return reshape_piece(piece, move)


def _size_rows(
    before: LegSizes, after: LegSizes, plan: Plan, shrink_long: float, shrink_wide: float
) -> tuple[GrowthRow, ...]:
    """Return the finished sizes before and after; a front and a back rise only where they differ."""
    whys = {
        "inseam": plan.whys["leg"],
        "outside": "leg and rise together",
        "front_rise": plan.whys["rise"],
        "back_rise": plan.whys["rise"],
        "waist": plan.whys["waist"],
        "hip": plan.whys["hip"],
    }
    alike = abs(before.front_rise - before.back_rise) < 0.5
    rows = []
    for field in fields(LegSizes):
        name = field.name
        if name == "back_rise" and alike:
            continue
        word = "rise" if name == "front_rise" and alike else name.replace("_", " ")
        share = 1.0 - (shrink_long if name in _LENGTHS else shrink_wide)
        why = whys.get(name, "in proportion to the hip")
        rows.append(GrowthRow(word, getattr(before, name) * share, getattr(after, name) * share, why))
    return tuple(rows)


_LENGTHS = ("inseam", "outside", "front_rise", "back_rise")


def _measured_changes(before: LegSizes, after: LegSizes, shrink_long: float, shrink_wide: float) -> dict[str, float]:
    """Return what is added to each measurement of the finished garment [mm], by its name."""
    more = {
        field.name: (getattr(after, field.name) - getattr(before, field.name))
        * (1.0 - (shrink_long if field.name in _LENGTHS else shrink_wide))
        for field in fields(LegSizes)
    }
    return {
        "inseam": more["inseam"],
        "outer length": more["outside"],
        "rise": more["front_rise"],
        "front rise": more["front_rise"],
        "back rise": more["back_rise"],
        "half waist": 0.5 * more["waist"],
        "waist edge": 0.25 * more["waist"],
        "half thigh": 0.5 * more["thigh"],
        "half knee": 0.5 * more["knee"],
        "half hem": 0.5 * more["hem"],
    }


def _grown_measurement(measurement: Measurement, changes: Mapping[str, float]) -> Measurement:
    return replace(measurement, value_mm=measurement.value_mm + changes.get(measurement.name, 0.0))


def _grow_cut_list(pattern: Pattern, plan: Plan, *, opening: float, hem: float) -> tuple[CutListRow, ...]:
    """Return the cut list with elastic, waistband and cuffs in the new size; seams keep their allowance.

    Args:
        pattern: as kept.
        plan: the growth.
        opening: the waist edge now over then, which a band that was as long stays as long as.
        hem: the hem edge now over then.
    """
    choices = pattern.choices
    had_waist = choices.get("waist_mm") is not None
    seams, (_, shrink_wide) = read_band_seams(pattern.pieces), shrinkage_of(pattern)
    rows = []
    for row in pattern.cut_list:
        length = row.length_mm
        if length is None:
            rows.append(row)
            continue
        at_ends = seams.get(row.name, (0.0, 0.0))[0]
        if "elastic" in row.name and had_waist and plan.waist_now_mm:
            length = plan.waist_now_mm * ELASTIC_SHARE_OF_WAIST.value + ELASTIC_OVERLAP_MM.value
        elif "waistband" in row.name and had_waist and plan.waist_now_mm:
            sewn = plan.waist_now_mm - FOLDED_BAND_SHORTER_MM.value - at_ends
            length = cut_length(sewn, shrink_wide) + at_ends
        elif "waist" in row.name:
            length = (length - at_ends) * opening + at_ends
        elif "cuff" in row.name:
            length = (length - at_ends) * hem + at_ends
        rows.append(replace(row, length_mm=length, note=renew_note(row.note, length, choices)))
    return tuple(rows)


def name_sizes(pattern: Pattern, grown: Sequence[Pattern]) -> list[str]:
    """Return what the kept pattern and those grown from it are called, so that they can be told apart."""
    names = []
    for size in grown:
        facts = size.choices["grown"]
        if facts.get("height_now_mm"):
            names.append(f"{facts['height_now_mm'] / 10:.0f} cm")
        elif facts.get("longer_mm"):
            names.append(f"{facts['longer_mm']:g} mm longer")
        else:
            names.append("next size")
    then = grown[0].choices["grown"].get("height_then_mm") if grown else None
    first = f"{then / 10:.0f} cm" if then else "as it was"
    whole = [first, *names]
    return [name if whole.count(name) == 1 else f"{name} ({place})" for place, name in enumerate(whole, start=1)]
