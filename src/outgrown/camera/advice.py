"""Which one change to the photo would help most, with the figure it would bring.

Each change is tried on paper: the adjustment is done again with the thing added as this very camera would see it,
and the outline's expected error is taken from its covariance.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Floats, frozen
from ..standards import CARD_LONG_MM, CARD_SHORT_MM, CARD_THICKNESS_MM, SHEET_SIZES_MM
from .adjust import adjust
from .camera import Camera
from .doubt import measure_doubt
from .lens_prior import LensPrior
from .reference import EdgeSamples, Kind, Reference
from .straight import Straight

_SAMPLE_PX = 0.25
_SAMPLES = 60
_ASIDE_MM = 60.0
_PROFILE_FOCAL_DOUBT = 0.004
_PROFILE_K1_DOUBT = 0.002


@dataclass(frozen=True)
class Advice:
    """One change and what it would bring.

    Attributes:
        change: what to do, as the start of a sentence.
        p95_mm: the outline's expected error then [mm].
    """

    change: str
    p95_mm: float


def find_best_advice(
    camera: Camera,
    references: Sequence[Reference],
    lines: Sequence[Straight],
    prior: LensPrior,
    ring_px: Floats,
    sigma_px: Floats,
    height_mm: float,
    has_profile: bool,
) -> Advice:
    """Return the change that would lower the expected error most.

    Args:
        camera: as solved.
        references: those it rests on.
        lines: straight lines it rests on too.
        prior: what was known of the lens.
        ring_px: (N, 2) the outline.
        sigma_px: (N,) its doubt.
        height_mm: of its rim.
        has_profile: the lens is known already.
    """
    thin = slice(None, None, max(1, len(ring_px) // 400))
    far = _far_spot_mm(camera, references, ring_px)
    lens = replace(camera.lens, distortion=(prior.k1, *camera.lens.distortion[1:]))

    def error(more: Sequence[Reference], known: LensPrior) -> float:
        adjusted = adjust([*references, *more], lens, known, lines).camera
        adjusted = replace(adjusted, other=None)
        return measure_doubt(adjusted, ring_px[thin], sigma_px[thin], height_mm).expected_error_mm()[1]

    changes: list[tuple[str, Callable[[], float]]] = [
        (
            "Lay a second card at the far end of the garment",
            lambda: error([imagine_reference(camera, Kind.CARD, far)], prior),
        ),
        (
            "Lay a sheet of A4 or Letter paper at the far end of the garment",
            lambda: error([imagine_reference(camera, Kind.A4, far)], prior),
        ),
    ]
    if not has_profile:
        known = replace(prior, focal_doubt=_PROFILE_FOCAL_DOUBT, k1_doubt=_PROFILE_K1_DOUBT, strong_share=0.0)
        changes.append(("Let the program learn the phone's lens once (outgrown lens)", lambda: error([], known)))
    tried = [Advice(change, bring()) for change, bring in changes]
    return min(tried, key=lambda advice: advice.p95_mm)


def _far_spot_mm(camera: Camera, references: Sequence[Reference], ring_px: Floats) -> Floats:
    """Return the spot beside the garment farthest from all references [mm]."""
    ring = camera.to_mm(ring_px)
    there = np.array([camera.to_mm(reference.corners_px).mean(axis=0) for reference in references])
    away = np.linalg.norm(ring[:, None] - there, axis=2).min(axis=1)
    spot = ring[int(np.argmax(away))]
    out = spot - ring.mean(axis=0)
    beside: Floats = spot + out / max(float(np.linalg.norm(out)), 1.0) * _ASIDE_MM
    return beside


def imagine_reference(camera: Camera, kind: Kind, at_mm: Floats, turn: float = 0.5) -> Reference:
    """Return the reference of a kind that `camera` would see with its middle at a floor position [mm]."""
    if kind is Kind.CARD:
        long, short, thickness, doubt = CARD_LONG_MM.value, CARD_SHORT_MM.value, CARD_THICKNESS_MM.value, 0.0008
    else:
        short, long, _ = SHEET_SIZES_MM[kind.value]
        thickness, doubt = 0.1, 0.002
    own = np.array([[0.0, 0.0], [long, 0.0], [long, short], [0.0, short]])
    cosine, sine = math.cos(turn), math.sin(turn)
    corners = (own - own.mean(axis=0)) @ np.array([[cosine, sine], [-sine, cosine]]) + at_mm
    middle = camera.to_px(at_mm[None], thickness)[0]
    edges = []
    for index in range(4):
        share = np.linspace(0.12, 0.88, _SAMPLES)
        first, second = corners[index], corners[(index + 1) % 4]
        points = camera.to_px(first + share[:, None] * (second - first), thickness)
        along = points[-1] - points[0]
        normal = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        normal = normal if normal @ (points.mean(axis=0) - middle) > 0 else -normal
        edges.append(EdgeSamples(frozen(points), frozen(np.tile(normal, (_SAMPLES, 1))), frozen(share), _SAMPLE_PX))
    return Reference(kind, frozen(camera.to_px(corners, thickness)), frozen(own), tuple(edges), doubt, thickness)
