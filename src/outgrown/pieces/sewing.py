"""Sewing: what is needed and the steps in order, for the machine and the finishes chosen. Words of our own."""

from dataclasses import dataclass
from enum import StrEnum

from ..garment.garment import EdgeName
from ..practice import CASING_SEWN_MM, ELASTIC_OVERLAP_MM, ELASTIC_SHARE_OF_WAIST, MOCK_CUFF_TURNED_MM
from .choices import Choices, Hem, Machine, Waist
from .fabric import shrinkage_words
from .leg_shape import is_leg
from .piece import Finish, Pattern


@dataclass(frozen=True)
class Stitch:
    """A kind of stitch by name and by its number in ISO 4915:1991.

    Attributes:
        name: what sewists call it.
        number: in ISO 4915:1991, whose first figure is the class: 3 lockstitches, 4 chain stitches of several
            threads, 5 overedge stitches.
    """

    name: str
    number: int

    def words(self) -> str:
        """Return name and number: `zigzag (304)`."""
        return f"{self.name} ({self.number})"


ZIGZAG = Stitch("zigzag", 304)
COVER = Stitch("coverstitch", 406)
OVERLOCK_3 = Stitch("3-thread overlock", 504)
OVERLOCK_4 = Stitch("4-thread overlock", 514)


class Sketch(StrEnum):
    """Which small drawing goes with a step."""

    CUT = "cut a mirrored pair on folds"
    CUT_OPEN = "cut a mirrored pair"
    SIDE = "sides"
    INSEAM = "inseams"
    RISE = "rise"
    ELASTIC_RING = "elastic closed to a ring"
    CASING = "casing turned over the elastic"
    ELASTIC_ON = "elastic sewn to the edge"
    BAND = "waistband folded and sewn on"
    HEM = "hem turned up"
    MOCK_CUFF = "mock cuff folded and overlocked"
    CUFF = "cuff folded and sewn on"
    PRESS = "pressed and tried on"


@dataclass(frozen=True)
class Step:
    """One thing to do.

    Attributes:
        title: a few words.
        text: how.
        sketch: its drawing.
        stitches: any of them will do, the first one best.
        then: for its second seam, where it has one with another stitch.
    """

    title: str
    text: str
    sketch: Sketch
    stitches: tuple[Stitch, ...] = ()
    then: tuple[Stitch, ...] = ()

    def stitch_words(self) -> str:
        """Return the stitches in words: `4-thread overlock (514) or 3-thread overlock (504)`."""
        groups = [" or ".join(stitch.words() for stitch in group) for group in (self.stitches, self.then) if group]
        return "; then ".join(dict.fromkeys(groups))


def list_notions(pattern: Pattern) -> list[str]:
    """Return what must lie ready beside the pieces."""
    choices = Choices.from_json(pattern.choices)
    has_cover = choices.machine is Machine.OVERLOCKER
    things = [
        "Cloth, not yet washed: the pattern allows for its shrinkage"
        if shrinkage_words(pattern.choices.get("fabric") or {})
        else "Cloth, washed and dried the way the garment will be"
    ]
    elastics = [row for row in pattern.cut_list if "elastic" in row.name]
    for row in elastics:
        if row.length_mm is not None:
            size = f"{choices.length(row.length_mm)} long, {choices.length(choices.elastic_width_mm)} wide"
            things.append(f"Soft {row.name}, {size}")
    if not elastics and choices.waist is not Waist.FOLDED_BAND:
        width = choices.length(choices.elastic_width_mm)
        overlap = choices.length(ELASTIC_OVERLAP_MM.value)
        things.append(
            f"Soft elastic, {width} wide, as long as the waist x {ELASTIC_SHARE_OF_WAIST.value:g} and {overlap} overlap"
        )
    if choices.hem is Hem.RIBBED_CUFF:
        things.append("Ribbed knit for the cuffs")
    things.append("Polyester thread; " + ("four cones for the overlocker, or three" if has_cover else "one reel"))
    things.append("Jersey or stretch needles, 75 or 80 (common practice)")
    things.append("Clips or pins, chalk" + (", a safety pin" if choices.waist is Waist.CASING else ""))
    return things


def list_steps(pattern: Pattern) -> tuple[Step, ...]:
    """Return the sewing steps in order; none for garments other than legs, whose making the outline does not tell."""
    legs = [piece for piece in pattern.pieces if is_leg(piece)]
    if not legs or "machine" not in pattern.choices:
        return ()
    choices = Choices.from_json(pattern.choices)
    overlocker = choices.machine is Machine.OVERLOCKER
    seam = (OVERLOCK_4, OVERLOCK_3) if overlocker else (ZIGZAG,)
    top = (COVER, ZIGZAG) if overlocker else (ZIGZAG,)
    neat = "" if overlocker else " Neaten the two edges together with a wide zigzag."
    has_side = any(e.name is EdgeName.SIDE and e.finish is Finish.SEAM for leg in legs for e in leg.edges)
    steps = [_cut(pattern, choices, overlocker)]
    if has_side:
        steps.append(
            Step(
                "Close the sides",
                "Lay each front on its back, right sides together, notches meeting. Sew from hem to waist." + neat,
                Sketch.SIDE,
                seam,
            )
        )
    steps += [
        Step(
            "Close the inseams",
            "Fold each leg lengthwise, right sides together. Match crotch point, notch and hem, clip, and sew the "
            "inseam from the hem up without pulling. You have two tubes." + neat,
            Sketch.INSEAM,
            seam,
        ),
        Step(
            "Join the legs",
            "Turn one leg right side out and push it into the other, so that right sides meet. Match the inseams "
            "(their allowances to opposite sides), the notches and the waist ends. Sew the rise in one go, from the "
            "front waist through the crotch to the back waist."
            + neat
            + " Sew the crotch curve twice: it is pulled most.",
            Sketch.RISE,
            seam,
        ),
        *_waist(pattern, choices, seam, top, neat),
        *_hem(pattern, choices, seam, top, neat),
        Step(
            "Press and try on",
            "Press seams from the inside with little steam, lifting the iron rather than pushing it. Pull every seam "
            "once as hard as it will be worn: no thread may snap. Cut threads short and take out every pin.",
            Sketch.PRESS,
        ),
    ]
    return tuple(steps)


def _cut(pattern: Pattern, choices: Choices, overlocker: bool) -> Step:
    finished = " The hem line lies on the cloth's finished edge." if choices.hem is Hem.FINISHED else ""
    settings = (
        "On scraps, set the differential feed until a pulled seam lies flat again."
        if overlocker
        else "On scraps, try a narrow zigzag, about 1 mm wide and 2.5 mm long: a pulled seam must not snap."
    )
    shrinks = shrinkage_words(pattern.choices.get("fabric") or {})
    first = (
        f"Do not wash the cloth first: the pattern is drawn for cloth that shrinks by {shrinks} in its first wash."
        if shrinks
        else "Wash and dry the cloth first."
    )
    fold = any(edge.finish is Finish.FOLD for piece in pattern.pieces for edge in piece.edges)
    on_fold = " For pieces on a fold, fold both selvedges to the middle." if fold else ""
    return Step(
        "Cut and mark",
        f"{first} Let the greatest stretch run round the body and the grainline along the ribs of "
        f"the knit, and cut mirrored pairs, without pulling.{on_fold}{finished} "
        f"Snip notches {choices.length(2.0)} deep. {settings}",
        Sketch.CUT if fold else Sketch.CUT_OPEN,
    )


def _waist(
    pattern: Pattern, choices: Choices, seam: tuple[Stitch, ...], top: tuple[Stitch, ...], neat: str
) -> list[Step]:
    if choices.waist is Waist.FOLDED_BAND:
        return [
            Step(
                "Sew on the waistband",
                "Sew the short ends of the band together, right sides in. Fold the ring in half along its length, "
                "right side out. Mark quarters on band and waist edge and clip them together, right sides in, all raw "
                "edges level, the band's seam at the centre back. Sew with the band on top, stretching it to the edge "
                "between the marks." + neat,
                Sketch.BAND,
                seam,
            )
        ]
    overlap = choices.length(ELASTIC_OVERLAP_MM.value)
    ring = Step(
        "Close the elastic",
        f"Try the elastic round the waist first. Lap its ends {overlap}, not twisted, and sew a box with a zigzag. "
        "Mark quarters on it.",
        Sketch.ELASTIC_RING,
        (ZIGZAG,),
    )
    depth = choices.length(_allowance(pattern, EdgeName.WAIST))
    if choices.waist is Waist.ELASTIC_TURNED:
        return [
            ring,
            Step(
                "Sew the elastic on and turn it",
                "Clip the elastic to the wrong side, level with the raw edge, quarters on centre front, centre back "
                "and sides. Sew along the edge, stretching only the elastic to the cloth; keep any blade off it. Turn "
                f"it to the inside, {depth} deep, and sew along its lower edge, stretching both.",
                Sketch.ELASTIC_ON,
                seam[-1:],
                top,
            ),
        ]
    return [
        Step(
            "Sew the casing",
            f"Turn the waist edge to the inside on its line, {depth} deep, and clip it. Sew "
            f"{choices.length(CASING_SEWN_MM.value)} from the raw edge with a stitch that stretches, leaving "
            f"{choices.length(50.0)} open at the centre back.",
            Sketch.CASING,
            top,
        ),
        Step(
            "Draw in the elastic",
            "Draw the elastic through on a safety pin, without a twist. "
            f"Lap its ends {overlap} and sew a box with a zigzag. Spread the fullness, close the gap, and sew once "
            "across the casing at the centre back so that the elastic cannot roll.",
            Sketch.ELASTIC_RING,
            (ZIGZAG,),
        ),
    ]


def _hem(
    pattern: Pattern, choices: Choices, seam: tuple[Stitch, ...], top: tuple[Stitch, ...], neat: str
) -> list[Step]:
    depth_mm = _allowance(pattern, EdgeName.HEM)
    depth = choices.length(depth_mm)
    if choices.hem is Hem.PLAIN:
        return [
            Step(
                "Hem the legs",
                f"Turn {depth} to the inside on the line; press. From the right side sew over the raw edge, stretching "
                "a little: with a coverstitch, a twin needle, or a zigzag.",
                Sketch.HEM,
                top,
            )
        ]
    if choices.hem is Hem.MOCK_CUFF:
        turned = choices.length(depth_mm - MOCK_CUFF_TURNED_MM.value)
        half = choices.length(0.5 * MOCK_CUFF_TURNED_MM.value)
        return [
            Step(
                "Sew the mock cuffs",
                f"Turn {turned} to the inside. Turn the same again, this time back over the outside, so that the raw "
                f"edge lies level with the new fold. Sew through all three layers {half} from it, the fold uncut. "
                "Pull the cuff down: it looks like a band sewn on, and the leg ends at its line.",
                Sketch.MOCK_CUFF,
                seam,
            )
        ]
    if choices.hem is Hem.RIBBED_CUFF:
        return [
            Step(
                "Sew on the cuffs",
                "Sew the short ends of each cuff together, right sides in. Fold the ring in half, right side out. Push "
                "it over the leg, right sides together, raw edges level, seam on inseam, quarters matched. Sew with "
                "the cuff on top, stretching it to the leg." + neat,
                Sketch.CUFF,
                seam,
            )
        ]
    return []


def _allowance(pattern: Pattern, edge: EdgeName) -> float:
    return next((e.allowance_mm for piece in pattern.pieces for e in piece.edges if e.name is edge), 0.0)


CAUTIONS = (
    "Sleepwear: in the US children's sleepwear must be flame-resistant or fit tightly within the dimensions of 16 CFR "
    "1615 and 1616, each place measured as the rule says, on the finished garment; elsewhere the local rule. Look them "
    "up: this pattern makes no claim to meet them.",
    "Cords: elastic only is the safe choice for a child. For drawstrings see 16 CFR 1120 (US, upper outerwear) and EN "
    "14682 (Europe: none at hood and neck of young children, short ends at the waist).",
    "Small parts: nothing that a child under three could pull off and swallow, see 16 CFR 1501. Sew trimmings down "
    "well.",
    "Tools: keep rotary blades closed and needles, pins and the hot iron away from children; count the pins before "
    "the garment is worn; take your foot off the pedal to thread a needle or change it.",
    "Where the rules of your country say otherwise, they hold. A pattern taken from a bought garment is for your own "
    "use.",
)
"""What to take care of; regulations by name, their numbers left to them."""
