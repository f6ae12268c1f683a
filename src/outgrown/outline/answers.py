"""Answers: which region of the whole photo is the garment, chosen among several by how well each holds."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags
from .guess import GuessJudge, find_guesses, keep_largest_patches
from .holding import Holding
from .kinship import Kinship, measure_kinship
from .lesson import Lesson
from .looks import measure_slopes, to_lab, weigh_slopes
from .masks import Reals, as_reals, resize_mask
from .own_colour import find_lost
from .own_hue import NO_WORSE, find_off_hue
from .patches import Patches, lay_patches
from .proposals import Scene, find_proposals, see_scene
from .severed import join_severed
from .threads import do_both, share_out

PROPOSING_SHORT_PX = 240
PLAIN, PLAIN_AS_PATCHES = 0.45, -0.2
"""An answer whose edge holds this well, and which holds this well as patches, is the garment, or much of it."""
RIVAL, ALIKE = 0.8, 0.15
"""A region that holds at least this share of what the best one holds, and scores less by no more than this, may lead to
the better answer: to a sleeve whose cuff is of another colour, or to cloth without the board in the sun beside it."""
MOST_ASKED, LASTING = 8, 0.03
"""So many regions are asked for parts in colours of their own; what comes back stays from this share of the garment on,
less must come back from the cut-out, too: a motif of a rug seems to have its like nowhere at first."""
MOST_REGIONS, MOST_GUESSES = 3, 2
"""So many of either kind are learned from. Of 394 scenes (composites of photos, drawn, rendered) 54 fell below an
overlap of 0.9 at this stage where one region was chosen first and then learned from, and 39 where up to three are
learned from and the answers compared; the best of all answers would leave 19."""
SPOILT = 0.8
"""An answer that holds less than this share of what it held before the lesson was better before: small garments. At
0.85 275 scenes come out the same, one photo 0.003 of overlap better, and striped leggings on two floors of a stripe's
colour 0.5 and 1.8 mm worse; at 0.9 a wrong answer was left to win on a photo."""
BETTER = 1.05
"""With severed parts an answer has to hold better by so much: striped leggings that had lost an end held 9 to 16 %
better with it. On 96 rendered photos 27 had such parts, nearly all small; joined whenever it held a little better,
outlines came out up to 0.004 of overlap worse, or 0.002 better."""
LEAST, LEAST_SHARE = -0.055, 0.5
"""Below this there is no garment, how it holds as patches counted by so much: 14 bare floors of seven kinds gave at
most -0.08, white on white gave -0.03."""
HOLDING = 0.3
"""A region whose edge holds this well is a thing, though too few patches speak for it; bare floors reached 0.13."""
AGREEING = 0.9
CHANGE_WEIGHT = 4.0
"""What differs from the empty floor counts so much more than what the photo teaches."""
TAUGHT_SHARE = 0.5
"""Weight of what the photo teaches beside what differs from the empty floor: striped cloth of the floor's grey differs
little. A drawn leg's end was lost without it (95 %: 15 mm, with it 1.0), other cloths lost nothing."""


@dataclass(frozen=True, eq=False)
class Answer:
    """One region that may be the garment.

    Attributes:
        mask: (h, w) True on the garment.
        log_ratio: (h, w) log-likelihood for garment that the whole photo taught; zeros where it taught nothing.
        held: how well its edge holds, 0 to about 1.
        own: (h, w) True on parts of it in a colour or hue of their own that stay, or None.
    """

    mask: Flags
    log_ratio: Reals
    held: float
    own: Flags | None = None


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
        steep = weigh_slopes(across, down)
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
        return self.regain(Answer(better, ratio, now), (mask,))

    def regain(self, answer: Answer, regions: Sequence[Flags]) -> Answer:
        """Return the answer with parts in colours of their own that these regions (h, w) hold and it lost."""
        for region in regions:
            lost = find_lost(self.holding, answer.mask, region)
            if lost.sum() > LASTING * answer.mask.sum():
                answer = self.take_in(answer, lost)
            elif lost.any():
                answer = _with_more(answer, lost, self.hold(answer.mask | lost))
        return answer

    def take_in(self, answer: Answer, own: Flags) -> Answer:
        """Return the answer with parts (h, w) in a colour or hue of their own, which stay."""
        more = own & ~answer.mask
        if more.any():
            answer = _with_more(answer, more, self.hold(answer.mask | more))
        return replace(answer, own=own if answer.own is None else answer.own | own)

    def join(self, answer: Answer) -> Answer:
        """Return the answer with parts that a stripe of the floor's colour severed, where it holds better with them."""
        mask = resize_mask(answer.mask, self.scene.blocked.shape)
        joined = join_severed(mask, self.holding.measure_ratio(mask), self.scene.blocked)
        more = resize_mask(joined & ~mask, answer.mask.shape) & ~answer.mask
        whole = answer.mask | more
        held = self.hold(whole) if more.any() else 0.0
        if held <= BETTER * self.hold(answer.mask):
            return answer
        return _with_more(answer, more, held)

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


def _with_more(answer: Answer, more: Flags, held: float) -> Answer:
    """Return an answer with `more` (h, w) in it: what the whole photo taught was learned with that as floor."""
    ratio = as_reals(np.where(more, np.abs(answer.log_ratio), answer.log_ratio))
    return replace(answer, mask=answer.mask | more, log_ratio=ratio, held=held)


def _shrink(small: Bytes, blocked: Flags) -> Scene:
    """Return the photo as small as regions are proposed on."""
    shrink = min(1.0, PROPOSING_SHORT_PX / min(blocked.shape))
    size = (round(blocked.shape[1] * shrink), round(blocked.shape[0] * shrink))
    tiny = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return see_scene(tiny, resize_mask(blocked, tiny.shape))


def find_answer(small: Bytes, blocked: Flags, fixed: NDArray[np.int8]) -> tuple[Bench, Answer | None]:
    """Return the photo made ready, and the region that holds best, or None where none holds at all.

    Args:
        small: (h, w, 3) the photo at working scale.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 said to be garment, -1 said to be floor, else 0.
    """
    scene = _shrink(small, blocked)
    bench, regions = do_both(lambda: Bench(small, blocked, fixed, scene), lambda: find_proposals(scene))
    asked = _choose_starts(bench, regions, blocked.shape)
    starts = asked[:MOST_REGIONS]
    said = fixed != 0

    def agrees(answer: Answer) -> bool:
        return bool((answer.mask[said] == (fixed[said] > 0)).mean() > AGREEING) if (fixed > 0).any() else True

    def finish(answer: Answer) -> Answer:
        answer = bench.regain(answer, [mask for _, mask in asked])
        own = find_off_hue(bench.lab, answer.mask, blocked)
        if own.any() and bench.hold(answer.mask | own) > NO_WORSE * answer.held:
            answer = bench.take_in(answer, own)
        return bench.join(answer)

    choice = _Choice(bench)
    if starts and starts[0][0] >= PLAIN:
        rivals = [start for start in starts if start[0] >= RIVAL * starts[0][0]]
        is_contested = len(rivals) > 1
        if is_contested:
            do_both(lambda: choice.kinship, lambda: choice.learn(*rivals[0]))
            scores = [held + choice.judge(mask) for held, mask in rivals]
            rivals = [start for start, score in zip(rivals, scores, strict=True) if score >= max(scores) - ALIKE]
        answers = share_out(lambda start: choice.learn(*start), rivals)
        plain = answers[0] if len(answers) == 1 else max(answers, key=choice.score)
        is_plain = plain.held >= PLAIN and not (is_contested and choice.judge(plain.mask) < PLAIN_AS_PATCHES)
        if is_plain and agrees(plain):
            return bench, finish(plain)
    answers = [choice.learn(*start) for start in starts]
    # A restless floor, or one like the cloth: ask the slower way too.
    ignored = bench.patches.mean_of(blocked) > 0.3
    for guess in find_guesses(bench.patches, choice.kinship, bench.forced, ignored)[:MOST_GUESSES]:
        mask = guess.garment[bench.patches.labels]
        answers.append(bench.learn(mask, bench.hold(mask), guess.log_ratio))
    if not answers:
        return bench, None
    surest = max(one.held + LEAST_SHARE * choice.judge(one.mask) for one in answers)
    if surest < LEAST and not (fixed > 0).any() and max(one.held for one in answers) < HOLDING:
        return bench, None
    return bench, finish(max(answers, key=lambda one: (agrees(one), choice.score(one))))


def _choose_starts(bench: Bench, regions: list[Flags], shape: tuple[int, ...]) -> list[tuple[float, Flags]]:
    """Return what the edges of the best regions hold, and these (h, w), the best first, none like another."""
    held_by = share_out(bench.holding.measure, regions)
    starts: list[tuple[float, Flags]] = []
    for held, number in sorted(((held, -number) for number, held in enumerate(held_by)), reverse=True):
        mask = regions[-number]
        if all((mask & other).sum() < 0.9 * (mask | other).sum() for _, other in starts):
            starts.append((held, mask))
        if len(starts) == MOST_ASKED:
            break
    return [(held, resize_mask(mask, shape)) for held, mask in starts]


class _Choice:
    """Compares answers by how they hold, along their edge and as patches; learns from none twice."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._learned: dict[int, Answer] = {}

    @cached_property
    def kinship(self) -> Kinship:
        """How alike the patches look."""
        return measure_kinship(self._bench.lab, self._bench.patches)

    @cached_property
    def _judge(self) -> GuessJudge:
        return GuessJudge(self._bench.patches, self.kinship)

    def learn(self, held: float, mask: Flags) -> Answer:
        """Return the answer that a region leads to, of which this is known to hold."""
        key = id(mask)
        if key not in self._learned:
            self._learned[key] = self._bench.learn(mask, held)
        return self._learned[key]

    def judge(self, mask: Flags) -> float:
        """Return how well a mask holds as patches."""
        return self._judge.measure(self._bench.patches.mean_of(mask) > 0.5)

    def score(self, answer: Answer) -> float:
        """Return how well an answer holds, along its edge and as patches."""
        return answer.held + self.judge(answer.mask)
