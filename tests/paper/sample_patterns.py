"""Patterns drawn by hand for the tests of paper: invented, simple enough to check on paper."""

from dataclasses import replace

import numpy as np

from outgrown.arrays import frozen
from outgrown.findings import Finding
from outgrown.garment.garment import EdgeName, Measurement
from outgrown.pieces.piece import CutListRow, Finish, InnerLine, Notch, Pattern, Piece, SeamEdge


def _curve(a, b, c, d, count=40):
    t = np.linspace(0, 1, count)[:, None]
    a, b, c, d = map(np.asarray, (a, b, c, d))
    return (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d


def make_leg(
    width_mm=170.0, length_mm=560.0, rise_mm=170.0, hem_width_mm=85.0, seam_mm=6.0, hem_mm=25.0, casing_mm=26.0
):
    """A leg on the fold: fold at x = 0, tapered to the hem, hem and casing mirrored on their fold lines."""
    crotch = np.array([width_mm, length_mm - rise_mm])
    waist = np.array([width_mm * 0.8, length_mm])
    hem = np.array([hem_width_mm, 0.0])
    inseam = _curve(hem, hem + (crotch - hem) * 0.35 - (4, 0), hem + (crotch - hem) * 0.75 - (6, 0), crotch)
    rise = _curve(crotch, crotch + np.array([-width_mm * 0.16, rise_mm * 0.1]), waist - (0, rise_mm * 0.5), waist)
    hem_line = np.array([(0.0, 0.0), hem])
    waist_line = np.array([waist, (0.0, length_mm)])
    side = np.array([(0.0, length_mm), (0.0, 0.0)])

    def outside(points):
        step = np.gradient(points, axis=0)
        normal = np.column_stack([step[:, 1], -step[:, 0]])
        return points + seam_mm * normal / np.hypot(*normal.T)[:, None]

    out_inseam, out_rise = outside(inseam), outside(rise)
    lean = (inseam[5] - inseam[0]) / (inseam[5] - inseam[0])[1]
    start = np.array([out_inseam[0][0], 0.0])
    turned = start + np.array([lean[0] * hem_mm, -hem_mm])
    top = np.array([out_rise[-1][0], length_mm])
    cut = np.vstack(
        [
            [(0.0, -hem_mm)],
            [turned],
            [start],
            out_inseam[1:-1],
            [out_inseam[-1] + (seam_mm * 0.5, seam_mm * 0.2)],
            out_rise[2:-1],
            [top, (top[0], length_mm + casing_mm), (0.0, length_mm + casing_mm)],
        ]
    )
    middle = inseam[len(inseam) // 2]
    return Piece(
        name="leg",
        edges=(
            SeamEdge(EdgeName.HEM, frozen(hem_line), hem_mm, Finish.HEM),
            SeamEdge(EdgeName.INSEAM, frozen(inseam), seam_mm, Finish.SEAM),
            SeamEdge(EdgeName.RISE, frozen(rise), seam_mm, Finish.SEAM),
            SeamEdge(EdgeName.WAIST, frozen(waist_line), casing_mm, Finish.CASING),
            SeamEdge(EdgeName.SIDE, frozen(side), 0.0, Finish.FOLD),
        ),
        cut_ring_mm=frozen(cut),
        quantity="cut 2, mirrored, on the fold",
        grainline_mm=frozen([(width_mm * 0.45, length_mm * 0.12), (width_mm * 0.45, length_mm * 0.42)]),
        stretch_mm=frozen([(width_mm * 0.2, length_mm * 0.72), (width_mm * 0.75, length_mm * 0.72)]),
        notches=(
            Notch(frozen(middle), frozen((1.0, 0.0)), seam_mm, False),
            Notch(frozen(rise[20]), frozen((0.98, 0.198)), seam_mm, True),
        ),
        inner_lines=(
            InnerLine("turn hem up here", frozen(np.array([(0.0, 0.0), start]))),
            InnerLine("turn casing down here", frozen(np.array([top, (0.0, length_mm)]))),
        ),
        labels=("height 116 cm",),
    )


def make_band(length_mm=480.0, height_mm=80.0, seam_mm=6.0, name="waistband"):
    """A plain strip with allowance all round, folded along its middle."""
    w, h, s = length_mm, height_mm, seam_mm
    corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    names = (EdgeName.WAIST, EdgeName.SIDE, EdgeName.WAIST, EdgeName.SIDE)
    edges = tuple(SeamEdge(n, frozen([corners[i], corners[(i + 1) % 4]]), s, Finish.SEAM) for i, n in enumerate(names))
    return Piece(
        name=name,
        edges=edges,
        cut_ring_mm=frozen([(-s, -s), (w + s, -s), (w + s, h + s), (-s, h + s)]),
        quantity="cut 1",
        grainline_mm=frozen([(w * 0.12, h * 0.08), (w * 0.12, h * 0.42)]),
        stretch_mm=frozen([(w * 0.6, h * 0.25), (w * 0.85, h * 0.25)]),
        inner_lines=(InnerLine("fold along the middle", frozen([(-s, h / 2), (w + s, h / 2)])),),
    )


def make_pattern(*pieces, title="Leggings", for_whom="Zoë Łucja", **changes):
    """A pattern around pieces; the leg and the waistband if none are given."""
    pattern = Pattern(
        title=title,
        for_whom=for_whom,
        made_on="2026-03-14",
        pieces=pieces or (make_leg(), make_band()),
        cut_list=(
            CutListRow("leg", 2, None, None, "main fabric", "a mirrored pair, on the fold"),
            CutListRow("waistband", 1, 492.0, 92.0, "main fabric", "on the fold: 24.6 cm"),
            CutListRow("elastic", 1, 503.0, 20.0, "elastic", "waist × 0.93 + 20 mm overlap"),
        ),
        measurements=(
            Measurement("inseam", 392.0, 1.4, "crotch point to hem, along the seam"),
            Measurement("outer length", 560.0, 1.6, "waist edge to hem, along the side"),
            Measurement("rise", 176.0, 1.2, "crotch point to waist edge, along the curve"),
            Measurement("half waist", 136.0, 1.0, "along the waist edge"),
            Measurement("half thigh", 166.0, 1.0, "25 mm below the crotch point"),
            Measurement("half hem", 85.0, 0.8, "along the hem"),
        ),
        choices={},
        outline_mm=frozen(np.zeros((0, 2))),
        expected_error_mm=(0.7, 1.6),
        findings=(
            Finding(
                "waist-not-given",
                "No waist was given, so the elastic is reckoned from the half waist.",
                "Measure the waist and make the pattern again.",
            ),
        ),
    )
    return replace(pattern, **changes)
