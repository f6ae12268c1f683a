"""Answers: which region of the whole photo is the garment, chosen among several by how well each holds."""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags
from .guess import GuessJudge, find_guesses, keep_largest_patches
from .holding import Holding
from .kinship import Kinship, measure_kinship
from .lesson import Lesson
from .looks import measure_slopes, to_lab
from .masks import Reals, as_reals, resize_mask
from .patches import Patches, lay_patches
from .proposals import Scene, find_proposals, see_scene
from .severed import join_severed
from .threads import do_both, share_out

PROPOSING_SHORT_PX = 240
PLAIN = 0.45
"""A region that holds this well is the garment, or much of it, unless a rival holds nearly as well."""
RIVAL = 0.8
"""A region that holds at least this share of what the best one holds may be the better answer: a board in the sun
taken for a part of the cloth holds a little better than the cloth alone."""
MOST_REGIONS, MOST_GUESSES = 3, 2
"""So many answers of either kind are looked at where none holds plainly."""
SPOILT = 0.85
"""An answer that holds less than this share of what it held before the lesson was better before: small garments, and
striped ones of which a stripe of the floor's colour parts an end. On 170 scenes two fell below it: a leg with its end
lost (0.715 of overlap where it had been 0.959), and one that comes out a little better. At 0.9 a wrong answer was left
to win on a photo."""
GUESS_SHARE = 0.5
"""Weight of how an answer holds as patches beside how its edge holds."""
BETTER = 1.05
"""With severed parts an answer has to hold better by so much: striped leggings that had lost an end held 9 to 16 %
better with it. On 96 rendered photos 27 had such parts, nearly all small; joined whenever it held a little better,
outlines came out up to 0.004 of overlap worse, or 0.002 better."""
LEAST = -0.055
"""Below this there is no garment: 14 bare floors of seven kinds gave at most -0.08, white on white gave -0.03."""
HOLDING = 0.3
"""A region whose edge holds this well is a thing, though too few patches speak for it; bare floors reached 0.13."""
AGREEING = 0.9
CHANGE_WEIGHT = 4.0
TAUGHT_SHARE = 0.5
"""Weight of what the photo teaches beside what differs from the empty floor: striped cloth of the floor's grey differs
little. A drawn leg's end was lost without it (95 %: 15 mm, with it 1.0), other cloths lost nothing."""
"""What differs from the empty floor counts so much more than what the photo teaches."""


@dataclass(frozen=True, eq=False)
class Answer:
    """One region that may be the garment.

    Attributes:
        mask: (h, w) True on the garment.
        log_ratio: (h, w) log-likelihood for garment that the whole photo taught; zeros where it taught nothing.
        held: how well its edge holds, 0 to about 1.
    """

    mask: Flags
    log_ratio: Reals
    held: float


class Bench:
    """One small photo, and what is needed to judge answers on it."""

    def __init__(self, small: Bytes, blocked: Flags, fixed: NDArray[np.int8], scene: Scene | None = None) -> None:
        """Make the photo ready; arguments as of `find_answer`, and the photo smaller yet, where it is known."""
        self.scene = _shrink(small, blocked) if scene is None else scene
        self.lab = to_lab(small)
        self.patches: Patches
        self.holding, self.patches = do_both(lambda: Holding(self.scene), lambda: lay_patches(self.lab))
        self.forced = as_reals(1e4 * self.patches.mean_of(fixed))
        self.lesson = Lesson(self.patches, self.lab, self.forced, blocked)

    @cached_property
    def colours(self) -> Reals:
        """(n, 3) mean CIE Lab of the patches."""
        return np.stack([self.patches.mean_of(self.lab[..., k]) for k in range(3)], 1)

    @cached_property
    def clearness(self) -> Reals:
        """(h, w) 0..1 how steep the colour is, 0.5 at the picture's usual step."""
        _, across, down = measure_slopes(self.lab, 1.2)
        steep = np.sqrt(((across**2 + down**2) * np.array([1.0, 2.0, 2.0], np.float32)).sum(2))
        return as_reals(steep / (steep + float(np.median(steep)) + 0.5))

    def hold(self, mask: Flags) -> float:
        """Return how well the edge of a mask (h, w) holds, 0 to about 1."""
        return self.holding.measure(resize_mask(mask, self.scene.blocked.shape))

    def learn(self, mask: Flags, held: float, first_ratio: Reals | None = None) -> Answer:
        """Return the answer that `mask` leads to, or `mask` where what it taught spoils it."""
        share = self.patches.mean_of(mask)
        if first_ratio is None:
            first_ratio = as_reals(4 * share - 2)
        garment, ratio = self.lesson.learn_again(share > 0.5, first_ratio)
        better = garment[self.patches.labels]
        now = self.hold(better) if better.any() else 0.0
        if now < SPOILT * held:
            return Answer(mask, np.zeros(mask.shape, np.float32), held)
        return Answer(better, ratio, now)

    def join(self, answer: Answer) -> Answer:
        """Return the answer with parts that a stripe of the floor's colour severed, where it holds better with them."""
        mask = resize_mask(answer.mask, self.scene.blocked.shape)
        joined = join_severed(mask, self.holding.measure_ratio(mask), self.scene.blocked)
        more = resize_mask(joined & ~mask, answer.mask.shape) & ~answer.mask
        whole = answer.mask | more
        held = self.hold(whole) if more.any() else 0.0
        if held <= BETTER * self.hold(answer.mask):
            return answer
        # What the whole photo taught was learned with them as floor.
        return Answer(whole, as_reals(np.where(more, np.abs(answer.log_ratio), answer.log_ratio)), held)

    def cut_change(self, change: Reals) -> Answer | None:
        """Return the answer that a `change` (h, w) from the empty floor leads to, or None where nothing changed."""
        nothing = np.zeros(self.patches.count, np.float32)
        garment = keep_largest_patches(self.patches, self.lesson.cut(change, nothing))
        if not garment.any():
            return None
        learned = self.lesson.teach(garment)
        if learned is not None:
            better = keep_largest_patches(
                self.patches, self.lesson.cut(as_reals(change + TAUGHT_SHARE * learned), nothing)
            )
            garment = better if better.any() else garment
        mask = garment[self.patches.labels]
        return Answer(mask, as_reals(CHANGE_WEIGHT * change), self.hold(mask))


def _shrink(small: Bytes, blocked: Flags) -> Scene:
    """Return the photo as small as regions are proposed on."""
    shrink = min(1.0, PROPOSING_SHORT_PX / min(blocked.shape))
    size = (round(blocked.shape[1] * shrink), round(blocked.shape[0] * shrink))
    tiny = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return see_scene(tiny, resize_mask(blocked, tiny.shape))


def find_answer(small: Bytes, blocked: Flags, fixed: NDArray[np.int8]) -> Answer | None:
    """Return the region that holds best, or None where none holds at all.

    Args:
        small: (h, w, 3) the photo at working scale.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 said to be garment, -1 said to be floor, else 0.
    """
    scene = _shrink(small, blocked)
    bench, regions = do_both(lambda: Bench(small, blocked, fixed, scene), lambda: find_proposals(scene))
    held_by = share_out(bench.holding.measure, regions)
    ranked = sorted(((held, -number) for number, held in enumerate(held_by)), reverse=True)
    starts: list[tuple[float, Flags]] = []
    for held, number in ranked:
        mask = regions[-number]
        if all((mask & other).sum() < 0.9 * (mask | other).sum() for _, other in starts):
            starts.append((held, mask))
        if len(starts) == MOST_REGIONS:
            break
    starts = [(held, resize_mask(mask, blocked.shape)) for held, mask in starts]
    answers: list[Answer] = []

    def agrees(answer: Answer) -> bool:
        said = fixed != 0
        return bool((answer.mask[said] == (fixed[said] > 0)).mean() > AGREEING) if (fixed > 0).any() else True

    learned: dict[int, Answer] = {}
    if starts and starts[0][0] >= PLAIN:
        chosen = _choose_plain(bench, [start for start in starts if start[0] >= RIVAL * starts[0][0]])
        plain = learned[chosen] = bench.learn(starts[chosen][1], starts[chosen][0])
        if plain.held >= PLAIN and agrees(plain):
            return bench.join(plain)
    for number, (held, mask) in enumerate(starts):
        answers.append(learned[number] if number in learned else bench.learn(mask, held))
    # A restless floor, or one like the cloth: ask the slower way too.
    kinship = measure_kinship(bench.lab, bench.patches)
    ignored = bench.patches.mean_of(blocked) > 0.3
    for guess in find_guesses(bench.patches, kinship, bench.forced, ignored)[:MOST_GUESSES]:
        mask = guess.garment[bench.patches.labels]
        answers.append(bench.learn(mask, bench.hold(mask), guess.log_ratio))
    scored = _score(bench, kinship, [(one.held, one.mask) for one in answers])
    scores = [score + 10 * agrees(one) for one, score in zip(answers, scored, strict=True)]
    if not answers or (
        max(scores) < LEAST + 10 * (not (fixed > 0).any()) and max(one.held for one in answers) < HOLDING
    ):
        return None
    return bench.join(answers[int(np.argmax(scores))])


def _choose_plain(bench: Bench, rivals: list[tuple[float, Flags]]) -> int:
    """Return the index of the region (what its edge holds, mask) that holds best, along its edge and as patches."""
    if len(rivals) == 1:
        return 0
    return int(np.argmax(_score(bench, measure_kinship(bench.lab, bench.patches), rivals)))


def _score(bench: Bench, kinship: Kinship, regions: list[tuple[float, Flags]]) -> list[float]:
    """Return how well each region (what its edge holds, mask) holds, along its edge and as patches."""
    judge = GuessJudge(bench.patches, kinship)
    return [held + GUESS_SHARE * judge.measure(bench.patches.mean_of(mask) > 0.5) for held, mask in regions]
