"""Growth: what is known of a child then and now, and what that means for a leg.

What was measured comes first; what was not is estimated from the growth in height by published tables, and said to
be an estimate.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from ..errors import PieceError
from ..findings import Finding, Severity
from ..practice import FULL_LENGTH_SHARE, HEM_ABOVE_FLOOR_MM, SHORT_LENGTH_SHARE
from . import body
from .body import Sex
from .unused import say_unused

_MOST_MM = 3000.0
_LEAST_MM = 50.0
_LEAST_OF_BODY_MM = {"height": 300.0, "waist": 80.0, "hip": 80.0}
"""No child is smaller, so a lesser number was typed without its unit: a height of 104 would be 104 mm."""
_MOST_LONGER_MM = 600.0
"""From a baby's to a grown-up's leg."""


@dataclass(frozen=True)
class Growth:
    """What is known of the body then and now; everything may be left out, but not all.

    Attributes:
        height_then_mm: standing height when the garment fitted [mm].
        height_now_mm: standing height the next one is for [mm].
        age_then_months: age then [months].
        age_now_months: age it is for [months].
        sex: whose growth chart.
        waist_then_mm: body waist then [mm]; None = the one the pattern was made with.
        waist_now_mm: body waist now [mm].
        hip_then_mm: hip girth then [mm].
        hip_now_mm: hip girth now [mm].
        inseam_mm: wanted inseam, crotch to where the hem shall end [mm].
        longer_mm: or simply so much longer [mm].
    """

    height_then_mm: float | None = None
    height_now_mm: float | None = None
    age_then_months: float | None = None
    age_now_months: float | None = None
    sex: Sex | None = None
    waist_then_mm: float | None = None
    waist_now_mm: float | None = None
    hip_then_mm: float | None = None
    hip_now_mm: float | None = None
    inseam_mm: float | None = None
    longer_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse lengths no body has, and an inseam said in two ways."""
        if self.inseam_mm is not None and self.longer_mm is not None:
            raise PieceError("The inseam is said in two ways.", "Give the inseam wanted, or how much longer, not both.")
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "longer_mm" and value is not None and abs(value) > _MOST_LONGER_MM:
                raise PieceError(
                    f"Longer by {value:g} mm cannot be.", "Give it with its unit, for example 20mm or 3/4in."
                )
            if not field.name.endswith("_mm") or field.name == "longer_mm" or value is None:
                continue
            word = field.name.removesuffix("_mm").replace("_", " ")
            if not _LEAST_OF_BODY_MM.get(word.partition(" ")[0], _LEAST_MM) < value < _MOST_MM:
                raise PieceError(f"The {word} of {value:g} mm cannot be.", "Give it with its unit, e.g. 110cm.")

    def as_json(self) -> dict[str, Any]:
        """Return what is known as plain JSON values."""
        return {k: str(v) if isinstance(v, Sex) else v for k, v in asdict(self).items() if v is not None}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Growth":
        """Return a growth from `as_json` values."""
        names = {field.name for field in fields(cls)}
        known = {key: value for key, value in values.items() if key in names}
        if known.get("sex") is not None:
            known["sex"] = Sex(known["sex"])
        return cls(**known)


@dataclass(frozen=True)
class GrowthRow:
    """One line of the size table.

    Attributes:
        what: which size, in the trade's words.
        before_mm: as kept [mm].
        after_mm: as grown [mm].
        why: what decided it.
    """

    what: str
    before_mm: float
    after_mm: float
    why: str = ""


@dataclass(frozen=True)
class Plan:
    """What a growth means for a leg.

    Attributes:
        leg_mm: added to the inseam [mm].
        rise_mm: added between crotch and waist, upright [mm].
        waist: waist girth now over then.
        hip: hip girth now over then; also that of thigh, knee and hem.
        whys: what decided each, by name.
        body: the body then and now by published tables.
        findings: what is only estimated.
        height_then_mm: standing height then, given or from the chart [mm].
        height_now_mm: standing height now, given or from the chart [mm].
        waist_now_mm: body waist now, measured or estimated [mm].
    """

    leg_mm: float
    rise_mm: float
    waist: float
    hip: float
    whys: Mapping[str, str]
    body: tuple[GrowthRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    height_then_mm: float | None = None
    height_now_mm: float | None = None
    waist_now_mm: float | None = None


_ESTIMATED = Finding(
    "girths-estimated",
    "Girths were grown by tables from the height alone, good to 4 cm at best for any one child.",
    "Measure waist and hip, then and now, and give them.",
    Severity.NOTE,
)


def plan_growth(growth: Growth, inseam_mm: float, waist_mm: float | None = None) -> Plan:
    """Return what the growth means for a leg.

    Args:
        growth: what is known.
        inseam_mm: of the pattern, cuff included [mm].
        waist_mm: body waist the pattern was made for [mm].

    Raises:
        PieceError: too little is known, or numbers that contradict each other.
    """
    then, now, how = _find_heights(growth)
    findings = _unused(growth, has_heights=now is not None)
    leg = rise = 0.0
    waist = hip = 1.0
    whys = {"leg": "as it was", "rise": "as it was", "waist": "as it was", "hip": "as it was"}
    rows: list[GrowthRow] = []
    waist_then = growth.waist_then_mm or waist_mm
    if then is not None and now is not None:
        covered = _covered_share(inseam_mm, then)
        leg = body.growth_of("leg", then, now)
        before, after = body.europe_at(then), body.europe_at(now)
        rise = (after.outside_leg - before.outside_leg) - leg
        leg *= covered
        hip = after.hip / before.hip
        first_waist = waist_then or body.survey_median("waist_p50", then)
        waist = 1.0 + body.growth_of("waist", then, now) / first_waist
        whys = {
            "leg": f"{how}; {body.SURVEY}" + (f"; {100 * covered:.0f} % of the leg's growth" if covered < 1 else ""),
            "rise": f"outside leg less leg; {body.EUROPE}",
            "waist": f"estimate from height; {body.SURVEY}",
            "hip": f"estimate from height; {body.EUROPE}",
        }
        rows = _body_rows(then, now)
        findings += _range_findings(then, now)
    if growth.waist_now_mm is not None:
        if waist_then is None:
            raise PieceError(
                "The waist now says nothing without the waist then.", "Give the waist then with --waist-then."
            )
        waist, whys["waist"] = growth.waist_now_mm / waist_then, "waist measured then and now"
    if growth.hip_now_mm is not None:
        if growth.hip_then_mm is None and then is None:
            raise PieceError("The hip now says nothing without the hip then.", "Give the hip then with --hip-then.")
        hip_then = growth.hip_then_mm or body.europe_at(then or 0.0).hip
        hip = growth.hip_now_mm / hip_then
        whys["hip"] = "hip measured now" + (" and then" if growth.hip_then_mm else f", then by {body.EUROPE}")
    if growth.inseam_mm is not None:
        leg, whys["leg"] = growth.inseam_mm - inseam_mm, "the inseam you asked for"
    elif growth.longer_mm is not None:
        leg, whys["leg"] = growth.longer_mm, "so much longer, as you asked"
    if waist == 1.0 and hip == 1.0 and leg == 0.0 and rise == 0.0:
        raise PieceError(
            "Nothing is said of how the child has grown.",
            "Give heights then and now, ages and --sex, the waist, the inseam, or --longer 20mm.",
        )
    _check_ratios(waist, hip)
    if any(whys[name].startswith("estimate") for name in ("waist", "hip")):
        findings.append(_ESTIMATED)
    waist_now = growth.waist_now_mm or (waist_then * waist if waist_then else None)
    return Plan(leg, rise, waist, hip, whys, tuple(rows), tuple(findings), then, now, waist_now)


def _check_ratios(waist: float, hip: float) -> None:
    """Refuse girths that become another garment's.

    Raises:
        PieceError: they do.
    """
    for name, ratio in (("waist", waist), ("hip", hip)):
        if not 0.7 < ratio < 1.6:
            raise PieceError(
                f"A {name} that becomes {100 * ratio:.0f} % of what it was is not the same garment any more.",
                "Look at the numbers and their units, or start from a pair nearer to the size.",
            )


def _unused(growth: Growth, *, has_heights: bool) -> list[Finding]:
    """Say what was told and changed nothing, as something else outranks it or what belongs to it is missing."""
    has_both = growth.height_then_mm is not None and growth.height_now_mm is not None
    has_ages = growth.age_then_months is not None or growth.age_now_months is not None
    asked = (
        (has_ages and has_both, "The ages (--age-then, --age)", "the heights then and now were measured"),
        (
            growth.sex is not None and (has_both or not has_ages),
            "Whose growth chart it is (--sex)",
            "the chart goes by ages" if not has_ages else "the heights then and now were measured",
        ),
        (
            growth.waist_then_mm is not None and growth.waist_now_mm is None and not has_heights,
            "The waist then (--waist-then)",
            "neither the waist now nor how the child has grown was said",
        ),
        (
            growth.hip_then_mm is not None and growth.hip_now_mm is None,
            "The hip then (--hip-then)",
            "the hip now was not said",
        ),
    )
    return say_unused(asked)


def _covered_share(inseam_mm: float, height_mm: float) -> float:
    """Return the share of the leg's growth that an inseam takes: as much as it covers of the leg, all if full-length.

    Between the two it goes over, so that no millimetre of inseam decides over six, and a size grown back is as it was.
    """
    if inseam_mm <= 0.0:
        return 1.0
    share = inseam_mm / (body.survey_median("leg_p50", height_mm) - HEM_ABOVE_FLOOR_MM.value)
    short, full = SHORT_LENGTH_SHARE.value, FULL_LENGTH_SHARE.value
    return share if share <= short else min(1.0, short + (1.0 - short) * (share - short) / (full - short))


def _find_heights(growth: Growth) -> tuple[float | None, float | None, str]:
    """Return heights then and now [mm] and how they are known."""
    then, now = growth.height_then_mm, growth.height_now_mm
    if then is not None and now is not None:
        return then, now, "height then and now"
    if growth.age_now_months is None and growth.age_then_months is None:
        if then is not None or now is not None:
            raise PieceError(
                "One height alone does not say how much the child has grown.",
                "Give both --height-then and --height-now, or the ages and --sex.",
            )
        return None, None, ""
    if growth.sex is None:
        raise PieceError("The growth chart needs to know whose it is.", "Give --sex boy or --sex girl.")
    if growth.age_then_months is None or growth.age_now_months is None:
        raise PieceError("One age alone does not say how much the child grows.", "Give both --age-then and --age.")
    z, who = 0.0, "the median child"
    if then is not None:
        z = body.z_of(growth.sex, growth.age_then_months, then)
    elif now is not None:
        z = body.z_of(growth.sex, growth.age_now_months, now)
    if then is not None or now is not None:
        who = f"percentile {body.percentile_of(z):.0f}"
    if abs(z) > 4.0:
        raise PieceError(
            f"A {growth.sex} so tall or small for that age ({abs(z):.1f} standard deviations off) is not on the chart.",
            "Look at height, age and their units, or give the heights then and now.",
        )
    then = body.stature_at(growth.sex, growth.age_then_months, z) if then is None else then
    now = body.stature_at(growth.sex, growth.age_now_months, z) if now is None else now
    return then, now, f"{who}, {body.CDC}, {growth.sex}s"


def _body_rows(then: float, now: float) -> list[GrowthRow]:
    """Return what published tables say of bodies of these heights."""
    before, after = body.europe_at(then), body.europe_at(now)
    return [
        GrowthRow("height", then, now, ""),
        GrowthRow("body waist", before.waist, after.waist, f"{body.EUROPE}, over a vest"),
        GrowthRow(
            "body waist, median",
            body.survey_median("waist_p50", then),
            body.survey_median("waist_p50", now),
            body.SURVEY,
        ),
        GrowthRow("body hip", before.hip, after.hip, body.EUROPE),
        GrowthRow("outside leg", before.outside_leg, after.outside_leg, body.EUROPE),
        GrowthRow(
            "leg, median", body.survey_median("leg_p50", then), body.survey_median("leg_p50", now), f"{body.SURVEY}"
        ),
    ]


def _range_findings(then: float, now: float) -> list[Finding]:
    low, high = body.SURVEY_RANGE_MM
    if not (low <= min(then, now) and max(then, now) <= high):
        return [
            Finding(
                "height-outside-survey",
                f"The survey's lines hold for heights from {low / 10:.0f} to {high / 10:.0f} cm; they were drawn on.",
                "Measure inseam, waist and hip and give them.",
            )
        ]
    if not (body.is_in_europe_range(then) and body.is_in_europe_range(now)):
        return [
            Finding(
                "height-outside-chart",
                "The chart for hip and rise ends at 92 and 122 cm; its slope was drawn on.",
                "Measure the hip and give it.",
                Severity.NOTE,
            )
        ]
    return []
