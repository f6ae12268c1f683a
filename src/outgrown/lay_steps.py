"""Steps of a lay: kept patterns and a cloth -> parts -> places -> plan, picture and JSON."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .arrays import Floats
from .drawer.lay_json import write_lay_json
from .findings import without_options
from .lay import on_bolt
from .lay.cloth import Bolt, Rules
from .lay.from_outline import SeenCloth, measured_shirt, see_leftover, see_shirt
from .lay.lay import Lay
from .lay.on_leftover import lay_on_leftover
from .lay.part import read_parts
from .lay.splitting import split_parts
from .paper.lay_leftover import draw_leftover_plan
from .paper.lay_photo import draw_lay_photo
from .paper.lay_plan import draw_lay_pdf, draw_lay_png, draw_lay_svg, draw_plan, list_rows
from .paper.lay_words import describe_answer, describe_cloth, told_findings
from .pieces.piece import Pattern
from .practice import RIM_SHARE, SOLD_BY_MM
from .steps import Traced


@dataclass(frozen=True, eq=False)
class LaidOnPhoto:
    """A lay on the cloth in a photo.

    Attributes:
        lay: in the cloth's millimetres.
        traced: the cloth.
        seen: the cloth in its own frame.
        rim_mm: height of its edge above the floor [mm].
    """

    lay: Lay
    traced: Traced
    seen: SeenCloth
    rim_mm: float

    def to_px(self, points_mm: Floats) -> Floats:
        """Return where points of the cloth are in the photo."""
        return self.traced.camera.to_px(self.seen.frame.out_of(points_mm), self.rim_mm)


def lay_on_bolt(
    patterns: Sequence[Pattern],
    bolt: Bolt,
    rules: Rules,
    *,
    opens_folds: bool = False,
    sold_by_mm: float = SOLD_BY_MM.value,
    splits: Collection[str] = (),
    counts: Mapping[str, int] | None = None,
) -> Lay:
    """Return the pieces of kept patterns on cloth off the roll.

    Raises:
        LayError: a piece is wider than the cloth, or nothing is cut of it.
    """
    parts, findings = read_parts(patterns, counts)
    parts = split_parts(parts, splits)
    return on_bolt.lay_on_bolt(parts, bolt, rules, opens_folds=opens_folds, sold_by_mm=sold_by_mm, findings=findings)


def lay_on_photo(
    patterns: Sequence[Pattern],
    traced: Traced,
    rules: Rules,
    *,
    margin_mm: float,
    thickness_mm: float,
    grain: float | Sequence[tuple[float, float]] = 0.0,
    on_hem: bool = False,
    splits: Collection[str] = (),
    counts: Mapping[str, int] | None = None,
) -> LaidOnPhoto:
    """Return the pieces of kept patterns on the cloth in a photo.

    Args:
        patterns: kept.
        traced: the cloth's outline.
        rules: how pieces may lie.
        margin_mm: kept from the cloth's edge besides what the photo may be wrong.
        thickness_mm: of the cloth as it lies.
        grain: degrees of its grain off the photo's upright, counter-clockwise, or two places along it [px].
        on_hem: the cloth is a shirt, its hem at the bottom of the photo, used as the pieces' hem.
        splits: names of pieces sewn from two.
        counts: how often pieces are wanted, where the person says so.

    Raises:
        LayError: no hem, no grain, nothing to lay, or nothing left of the cloth.
    """
    parts, findings = read_parts(patterns, counts)
    parts = split_parts(parts, splits)
    rim_mm = RIM_SHARE.value * thickness_mm
    camera, outline = traced.camera, traced.outline
    middle = outline.ring_px.mean(axis=0)
    below, above = camera.to_mm(middle + np.array([[0.0, 40.0], [0.0, -40.0]]), rim_mm)
    up = float(above[0] - below[0]), float(above[1] - below[1])
    margin = margin_mm + traced.expected_error_mm[1]
    if on_hem:
        seen = see_shirt(outline.ring_mm, outline.holes_mm, up, margin)
    else:
        seen = see_leftover(outline.ring_mm, outline.holes_mm, up, margin)
        if isinstance(grain, float | int):
            grain_deg = 90.0 + grain
        else:
            one, other = seen.frame.into(camera.to_mm(np.asarray(grain, dtype=np.float64), rim_mm))
            grain_deg = float(np.degrees(np.arctan2(*(other - one)[::-1])))
        seen = replace(seen, cloth=replace(seen.cloth, grain_deg=grain_deg))
    known = (*traced.findings, *seen.findings, *findings)
    return LaidOnPhoto(lay_on_leftover(parts, seen.cloth, rules, findings=known), traced, seen, rim_mm)


def lay_on_shirt(
    patterns: Sequence[Pattern],
    width_mm: float,
    length_mm: float,
    rules: Rules,
    *,
    margin_mm: float,
    splits: Collection[str] = (),
    counts: Mapping[str, int] | None = None,
) -> Lay:
    """Return the pieces of kept patterns on a shirt's body of which two lengths were measured.

    Raises:
        LayError: no shirt is like that, or nothing is to be laid.
    """
    parts, findings = read_parts(patterns, counts)
    shirt = measured_shirt(width_mm, length_mm, margin_mm)
    return lay_on_leftover(split_parts(parts, splits), shirt, rules, findings=findings)


def draw_lay(lay: Lay) -> Mapping[str, bytes]:
    """Return the files of a lay: name -> content."""
    draw = draw_plan if isinstance(lay.cloth, Bolt) else draw_leftover_plan
    return {
        "lay.pdf": draw_lay_pdf(lay, draw),
        "lay.png": draw_lay_png(lay, draw),
        "lay.json": write_lay_json(lay).encode("utf-8"),
    }


def draw_lay_picture(lay: Lay) -> str:
    """Return the plan of a lay as SVG, to look at."""
    return draw_lay_svg(lay, draw_plan if isinstance(lay.cloth, Bolt) else draw_leftover_plan)


def draw_lay_on_photo(laid: LaidOnPhoto) -> Mapping[str, bytes]:
    """Return the files of a lay on the cloth in a photo; the picture is the photo with the pieces drawn on it."""
    answer, about, rows = describe_lay(laid.lay)
    lines = [without_options(words) for words in (*about, *rows, *(offer.sentence() for offer in laid.lay.offers))]
    picture = draw_lay_photo(laid.traced.photo.pixels, laid.lay, laid.to_px, laid.traced.outline.ring_px, lines, answer)
    return {**draw_lay(laid.lay), "lay.png": picture}


def describe_lay(lay: Lay) -> tuple[str, list[str], list[str]]:
    """Return the answer, what it rests on, and a line for each part and for what must be known besides."""
    return describe_answer(lay), describe_cloth(lay), [*list_rows(lay), *told_findings(lay)]
