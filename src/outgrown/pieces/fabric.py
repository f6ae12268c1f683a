"""Fabric: what another cloth makes of the pattern. Stretch of the old and the new, shrinkage, ease.

The share of its stretch that a cloth gives when worn stays: g2 = B / (1 + (s2 / s1) (B / g1 - 1)), with the body's
girth B, the garment's g1 in the old cloth and g2 in the new, and the stretches s1 and s2 over 10 cm. Where the garment
is no tighter than the body, nothing is stretched and the girth stays. Shrinkage by direction: cut = finished / (1 - s).
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName
from .band_pieces import is_band, read_band_seams, refit_bands
from .choices import Waist
from .leg_shape import LegChange, LegSizes, change_leg, compare_openings, is_leg, measure_leg
from .piece import CutListRow, Pattern, Piece
from .reshaping import renew_note, reshape_piece

GIRTHS = ("waist", "hip", "thigh", "knee", "hem")
"""Levels at which a body may be measured; the hem's girth is the ankle's on a long leg."""


@dataclass(frozen=True)
class Fabric:
    """What is known of the cloths and the body. Everything may be left out.

    Attributes:
        stretch_old: share by which 10 cm of the garment's cloth stretch, 0.5 = to 15 cm; None = not measured.
        stretch_new: the same of the new cloth.
        shrink_long: share by which the new cloth shrinks along the grain; 0 when it was washed before cutting.
        shrink_wide: the same across the grain.
        waist_mm: body girth at the waist [mm].
        hip_mm: at the hip.
        thigh_mm: at the thigh.
        knee_mm: at the knee.
        hem_mm: where the hem sits, the ankle of a long leg.
    """

    stretch_old: float | None = None
    stretch_new: float | None = None
    shrink_long: float = 0.0
    shrink_wide: float = 0.0
    waist_mm: float | None = None
    hip_mm: float | None = None
    thigh_mm: float | None = None
    knee_mm: float | None = None
    hem_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no cloth and no body does."""
        for name in ("stretch_old", "stretch_new"):
            value = getattr(self, name)
            if value is not None and not 0.0 <= value <= 3.0:
                raise PieceError(
                    f"A stretch of {100 * value:.0f} % cannot be.",
                    "Pull 10 cm as far as it goes easily: to 15 cm is 50 %.",
                )
        for name in ("shrink_long", "shrink_wide"):
            if not 0.0 <= getattr(self, name) <= 0.25:
                raise PieceError(
                    f"A shrinkage of {100 * getattr(self, name):.0f} % cannot be.",
                    "Wash a marked square: 10 cm that become 9.5 cm are 5 %.",
                )
        for name in GIRTHS:
            value = getattr(self, f"{name}_mm")
            if value is not None and not 80.0 < value < 2500.0:
                raise PieceError(f"A {name} of {value:g} mm cannot be.", "Give it with its unit, for example 52cm.")

    @property
    def is_plain(self) -> bool:
        """Nothing is known that would change or check the pattern."""
        return self == Fabric(waist_mm=self.waist_mm)

    def as_json(self) -> dict[str, Any]:
        """Return what is known as plain JSON values."""
        return {key: value for key, value in asdict(self).items() if value is not None}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Fabric":
        """Return a fabric from `as_json` values; others are passed over."""
        names = {field.name for field in fields(cls)}
        return cls(**{key: value for key, value in values.items() if key in names})


@dataclass(frozen=True)
class FabricRow:
    """One line of the table that says what the cloth makes of the pattern.

    Attributes:
        what: which size.
        garment_mm: as it is on the garment [mm].
        body_mm: the body there [mm], or None.
        finished_mm: as it shall be in the new cloth [mm].
        cut_mm: as it is drawn, shrinkage included, allowances not [mm].
        why: what decided it, in words.
    """

    what: str
    garment_mm: float
    body_mm: float | None
    finished_mm: float
    cut_mm: float
    why: str


def keep_stretch_share(body_mm: float, garment_mm: float, stretch_old: float, stretch_new: float) -> float:
    """Return the girth in the new cloth that uses the same share of its stretch [mm].

    A garment of 400 mm on a body of 500 is stretched by 25 %: half of what a 50 % cloth gives. A cloth of 25 % then
    may stretch by 12.5 %:

    >>> round(keep_stretch_share(500.0, 400.0, 0.50, 0.25), 1)
    444.4
    >>> keep_stretch_share(500.0, 520.0, 0.50, 0.25)
    520.0
    """
    used = body_mm / garment_mm - 1.0
    if used <= 0.0:
        return garment_mm
    if stretch_old <= 0.0:
        raise PieceError(
            "The old cloth is said not to stretch, yet the garment is tighter than the body.",
            "Measure the old cloth's stretch over 10 cm again.",
        )
    return body_mm / (1.0 + stretch_new / stretch_old * used)


def cut_length(finished_mm: float, shrinkage: float) -> float:
    """Return what to cut so that `finished_mm` is left after shrinking: finished / (1 - s) [mm].

    >>> cut_length(95.0, 0.05)
    100.0
    """
    return finished_mm / (1.0 - shrinkage)


def apply_fabric(pattern: Pattern, fabric: Fabric) -> Pattern:
    """Return the pattern drawn for another cloth, with the table of what became of it in its choices.

    Pieces are widened or narrowed level by level for the stretch, then everything is enlarged for the shrinkage.

    Raises:
        PieceError: the numbers contradict each other, or the shape has no room for them.
    """
    if fabric.is_plain:
        return pattern
    legs = [piece for piece in pattern.pieces if is_leg(piece)]
    before = measure_leg(pattern.pieces) if legs else None
    ratios, whys = _stretch_ratios(before, fabric, _has_elastic(pattern)) if before else ({}, {})
    scale = (cut_length(1.0, fabric.shrink_wide), cut_length(1.0, fabric.shrink_long))
    fitted = tuple(_change_girths(piece, ratios) for piece in pattern.pieces)
    pieces = tuple(_enlarge(piece, scale) for piece in fitted)
    fits = _Fits(
        compare_openings(pattern.pieces, pieces, scale[0]),
        measure_leg(fitted).hem / before.hem if before else 1.0,
        scale,
    )
    cut_list = tuple(_fit_row(row, fits, pattern) for row in pattern.cut_list)
    pieces = refit_bands(pieces, cut_list)
    rows: tuple[FabricRow, ...] = ()
    findings: list[Finding] = []
    if before:
        rows = _rows(before, measure_leg(fitted), measure_leg(pieces), fabric, ratios, whys)
        findings += check_hips(replace(pattern, pieces=pieces, cut_list=cut_list), fabric)
        findings += _missing(before, fabric)
    elif fabric != Fabric(shrink_long=fabric.shrink_long, shrink_wide=fabric.shrink_wide, waist_mm=fabric.waist_mm):
        findings.append(
            Finding(
                "girths-of-legs-only",
                "What another cloth's stretch makes of the girths is worked out for legs only; here they were left.",
                "Where the new cloth stretches less, cut the piece wider.",
            )
        )
    findings += _say_shrinkage(fabric)
    choices = {**pattern.choices, "fabric": {**fabric.as_json(), "sizes": [asdict(row) for row in rows]}}
    return replace(
        pattern,
        pieces=pieces,
        choices=choices,
        cut_list=cut_list,
        findings=(*pattern.findings, *findings),
    )


def shrinkage_words(fabric: Mapping[str, Any]) -> str:
    """Return by how much a kept pattern's cloth is expected to shrink, `5 % along the grain`; empty where it is not."""
    ways = (("shrink_long", "along the grain"), ("shrink_wide", "across"))
    return " and ".join(f"{100 * fabric[name]:g}\u00a0% {way}" for name, way in ways if fabric.get(name))


def _say_shrinkage(fabric: Fabric) -> list[Finding]:
    """Say that the cloth is cut unwashed: who is used to washing it first would have the garment too large."""
    words = shrinkage_words(fabric.as_json())
    if not words:
        return []
    return [
        Finding(
            "drawn-for-shrinkage",
            f"All is drawn larger, for cloth that shrinks by {words} when it is first washed.",
            "Cut that cloth unwashed; for cloth washed before, make the pattern again without shrinkage.",
            Severity.NOTE,
        )
    ]


def _has_elastic(pattern: Pattern) -> bool:
    return pattern.choices.get("waist") in (Waist.CASING, Waist.ELASTIC_TURNED)


def _stretch_ratios(before: LegSizes, fabric: Fabric, has_elastic: bool) -> tuple[dict[str, float], dict[str, str]]:
    """Return new girth over old by level, and why; a level not measured follows the nearest one that was.

    A waist with elastic is gathered by it, not stretched: it follows the hip where that was measured.
    """
    if fabric.stretch_old is None or fabric.stretch_new is None:
        return dict.fromkeys(GIRTHS, 1.0), dict.fromkeys(GIRTHS, "as the garment")
    known: dict[str, float] = {}
    whys: dict[str, str] = {}
    for name in GIRTHS:
        body = getattr(fabric, f"{name}_mm")
        if body is None or (name == "waist" and has_elastic and fabric.hip_mm is not None):
            continue
        garment = getattr(before, name)
        known[name] = keep_stretch_share(body, garment, fabric.stretch_old, fabric.stretch_new) / garment
        used = body / garment - 1.0
        if used <= 0.0:
            whys[name] = "looser than the body: nothing is stretched, the girth stays"
        else:
            share = used / fabric.stretch_old
            whys[name] = (
                f"worn stretched by {100 * used:.0f} %, {100 * share:.0f} % of what the old cloth gives; "
                f"the same share of the new cloth's {100 * fabric.stretch_new:.0f} %"
            )
    if not known:
        return dict.fromkeys(GIRTHS, 1.0), dict.fromkeys(GIRTHS, "no body girth given, so as the garment")
    ratios = {}
    for place, name in enumerate(GIRTHS):
        nearest = min(known, key=lambda other: (abs(GIRTHS.index(other) - place), GIRTHS.index(other)))
        # The waist's own fit is the elastic's work; the legs follow the hip rather than the waist.
        if name not in known and name != "waist" and nearest == "waist" and len(known) > 1:
            nearest = min((n for n in known if n != "waist"), key=lambda other: abs(GIRTHS.index(other) - place))
        ratios[name] = known[nearest]
        gathered = name == "waist" and fabric.waist_mm is not None
        reason = "gathered by its elastic" if gathered else "not measured"
        whys.setdefault(name, f"{reason}; in proportion to the {nearest}")
    return ratios, whys


def _change_girths(piece: Piece, ratios: Mapping[str, float]) -> Piece:
    """Return a leg with its girths changed; other pieces as they are."""
    if not is_leg(piece) or all(ratio == 1.0 for ratio in ratios.values()):
        return piece
    return reshape_piece(piece, change_leg(piece, LegChange(**ratios)))


def _enlarge(piece: Piece, scale: tuple[float, float]) -> Piece:
    """Return the piece enlarged by (across, along) the grain."""
    return piece if scale == (1.0, 1.0) or is_band(piece) else reshape_piece(piece, lambda points: points * scale)


@dataclass(frozen=True)
class _Fits:
    """What the cloth makes of the edges that bands are sewn to, after over before.

    Attributes:
        opening: the waist edge as cut, shrinkage included.
        hem: the hem edge, without shrinkage: cuffs are of another knit.
        scale: what shrinkage asks for, across and along the grain.
    """

    opening: float
    hem: float
    scale: tuple[float, float]


def _fit_row(row: CutListRow, fits: _Fits, pattern: Pattern) -> CutListRow:
    """Return a cut list row for the new cloth; elastic stays, bands of the main fabric shrink with it.

    Seams keep their allowance, as on every piece, so that a band stays as long as the edge it is sewn to.
    """
    if row.length_mm is None or row.width_mm is None or "elastic" in row.name:
        return row
    at_ends, along = read_band_seams(pattern.pieces).get(row.name, (0.0, 0.0))
    length, width = row.length_mm - at_ends, row.width_mm - along
    if "cuff" in row.name:
        length *= fits.hem
    elif "waist" in row.name and pattern.choices.get("waist_mm") is None:
        length *= fits.opening
    else:
        length *= fits.scale[0]
    if row.material == "main fabric":
        width *= fits.scale[1]
    length, width = length + at_ends, width + along
    return replace(row, length_mm=length, width_mm=width, note=renew_note(row.note, length, pattern.choices))


def _rows(
    before: LegSizes,
    fitted: LegSizes,
    drawn: LegSizes,
    fabric: Fabric,
    ratios: Mapping[str, float],
    whys: Mapping[str, str],
) -> tuple[FabricRow, ...]:
    rows = []
    wide, long = f"{100 * fabric.shrink_wide:g} %", f"{100 * fabric.shrink_long:g} %"
    for name in GIRTHS:
        garment = getattr(before, name)
        why = whys[name] + (f"; shrinks by {wide} across" if fabric.shrink_wide else "")
        finished = garment * ratios[name]
        cut = cut_length(finished, fabric.shrink_wide)
        rows.append(FabricRow(name, garment, getattr(fabric, f"{name}_mm"), finished, cut, why))
    for name in ("inseam", "outside"):
        why = f"shrinks by {long} along" if fabric.shrink_long else "as the garment"
        rows.append(FabricRow(name, getattr(before, name), None, getattr(fitted, name), getattr(drawn, name), why))
    return tuple(rows)


def check_hips(pattern: Pattern, fabric: Fabric) -> list[Finding]:
    """Warn when the relaxed opening, stretched as far as the new cloth goes, does not pass over the hips.

    Relaxed waist opening x (1 + stretch) >= hip girth is necessary; the opening is that of the finished waist edge,
    or of a shorter waistband, its seams sewn and the cloth washed.
    """
    if fabric.hip_mm is None or not any(is_leg(piece) for piece in pattern.pieces):
        return []
    opening = measure_leg(pattern.pieces).waist * (1.0 - fabric.shrink_wide)
    where = "waist edge"
    seam = next((e.allowance_mm for p in pattern.pieces for e in p.edges if e.name is EdgeName.WAIST), 0.0)
    for row in pattern.cut_list:
        if "waistband" in row.name and row.length_mm is not None:
            band = (row.length_mm - 2.0 * seam) * (1.0 - fabric.shrink_wide)
            if band < opening:
                opening, where = band, "waistband"
    stretch = fabric.stretch_new if fabric.stretch_new is not None else fabric.stretch_old
    if stretch is None:
        if opening >= fabric.hip_mm:
            return []
        return [
            Finding(
                "hip-stretch-unknown",
                f"The {where} must stretch from {opening / 10:.1f} to {fabric.hip_mm / 10:.1f} cm to pass the hips.",
                "Measure how far 10 cm of the new cloth stretch and give that, too (--stretch-new).",
                place="waist",
                amount_mm=fabric.hip_mm - opening,
            )
        ]
    reach = opening * (1.0 + stretch)
    if reach >= fabric.hip_mm:
        return []
    return [
        Finding(
            "cannot-pass-hips",
            f"Stretched as far as the cloth goes ({100 * stretch:.0f} %), the {where} opens to {reach / 10:.1f} cm: "
            f"that does not pass over hips of {fabric.hip_mm / 10:.1f} cm.",
            "Take a cloth that stretches more, or cut a wider waist and gather it with the elastic.",
            place="waist",
            amount_mm=fabric.hip_mm - reach,
        )
    ]


def _missing(before: LegSizes, fabric: Fabric) -> list[Finding]:
    """Say what is needed to answer for another stretch."""
    if (fabric.stretch_old is None) != (fabric.stretch_new is None):
        one, other = ("new", "old") if fabric.stretch_old is None else ("old", "new")
        return [
            Finding(
                "one-stretch-only",
                f"The {one} cloth's stretch alone says nothing of the girths: the {other} one's is missing.",
                f"Measure over 10 cm how far the {other} cloth stretches and give that, too (--stretch-{other}).",
            )
        ]
    if fabric.stretch_old is None or fabric.stretch_new is None:
        return []
    if all(getattr(fabric, f"{name}_mm") is None for name in GIRTHS):
        return [
            Finding(
                "no-body-girth",
                "Without the body's girths the share of stretch in use is not known, so the girths were left.",
                "Measure the hip, best the thigh too, and give them.",
            )
        ]
    beyond = [
        name
        for name in GIRTHS
        if (body := getattr(fabric, f"{name}_mm")) is not None
        and body / getattr(before, name) - 1.0 > fabric.stretch_old + 1e-9
        and name != "waist"
    ]
    if beyond:
        return [
            Finding(
                "stretched-beyond-cloth",
                f"At the {' and '.join(beyond)} the garment would have to stretch more than its cloth gives.",
                "Measure the girths and the old cloth's stretch again.",
            )
        ]
    if abs(fabric.stretch_old - fabric.stretch_new) > 0.005 and fabric.thigh_mm is None:
        return [
            Finding(
                "girths-follow-hip",
                "Girths not measured follow the nearest one that was.",
                "Measure thigh, knee and ankle for a closer fit.",
                Severity.NOTE,
            )
        ]
    return []
