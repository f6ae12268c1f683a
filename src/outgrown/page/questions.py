"""Questions: what a person can decide on the page, in plain words, each default explained where it stands."""

from dataclasses import asdict, dataclass
from typing import Any

from ..garment.garment import Laid
from ..garment.kinds import KINDS
from ..paper.choices import HOME_PAPERS
from ..pieces.body import Sex
from ..pieces.choices import EDGES_WITH_ALLOWANCE, EdgeIs, Hem, Machine, Waist
from ..practice import (
    ELASTIC_WIDTH_MM,
    FOLDED_BAND_HEIGHT_MM,
    MOCK_CUFF_HEM_MM,
    OVERLOCKED_SEAM_MM,
    PLAIN_HEM_MM,
    RIB_CUFF_HEIGHT_MM,
    SEWING_MACHINE_SEAM_MM,
    SHARE_UP_TO_MM,
)
from ..standards import SHEET_SIZES_MM
from ..units import Units, write_cm, write_inch


@dataclass(frozen=True)
class Option:
    """One way to answer."""

    value: str
    label: str
    picture: str = ""


@dataclass(frozen=True)
class Question:
    """One thing a person can decide.

    Attributes:
        name: as the library calls it.
        group: which part of the form it stands in.
        label: in plain words.
        kind: `choice`, `length`, `percent`, `age`, `allowances`, `text` or `switch`.
        why: why one would say it, and where the default comes from.
        default: the answer when nothing is said, as typed.
        options: of a choice.
        needs: (name, value) of another question that makes this one matter, or empty.
        unit: of a length typed without one; that of the usual answer or the example beside it.
    """

    name: str
    group: str
    label: str
    kind: str
    why: str
    default: str = ""
    options: tuple[Option, ...] = ()
    needs: tuple[str, ...] = ()
    unit: str = "cm"


def _both(length_mm: float) -> str:
    words = f"{length_mm:g} mm" if length_mm < 100 else write_cm(length_mm)
    return f"{words} ({write_inch(length_mm)})"


def _paper_words(name: str) -> str:
    short, long, _ = SHEET_SIZES_MM[name]
    called = name.upper() if name.startswith("a") else name.capitalize()
    return f"{called} ({short:g} × {long:g} mm)"


_COMMON = "Common practice."
_TOLD = "Told from the outline unless you say."

QUESTIONS = (
    Question("title", "garment", "Name of the garment", "text", "Written on every piece.", "", needs=()),
    Question(
        "for_whom", "garment", "For whom, or which size", "text", "Written on every piece, and found in the drawer."
    ),
    Question(
        "laid",
        "garment",
        "How it lies in the photo",
        "choice",
        f"{_TOLD} Folded gives the true rise; open has to estimate it.",
        "",
        (
            Option("", "as told from the outline", "auto"),
            Option(Laid.FOLDED, "folded lengthwise, one leg on the other", "folded"),
            Option(Laid.OPEN, "open, both legs side by side", "open"),
            Option(Laid.PANEL, "taken apart, one leg's piece", "panel"),
            Option(Laid.OTHER, "another garment, as it lies", "other"),
        ),
    ),
    Question(
        "kind",
        "garment",
        "What it is",
        "choice",
        _TOLD,
        "",
        (Option("", "as told from the outline"), *(Option(name, name) for name in KINDS)),
    ),
    Question(
        "machine",
        "sewing",
        "Seams are sewn with",
        "choice",
        f"Decides the seam allowance: overlocker {_both(OVERLOCKED_SEAM_MM.value)}, sewing machine "
        f"{_both(SEWING_MACHINE_SEAM_MM.value)}. {_COMMON}",
        Machine.OVERLOCKER,
        (Option(Machine.OVERLOCKER, "an overlocker"), Option(Machine.SEWING_MACHINE, "a sewing machine")),
    ),
    Question(
        "waist",
        "sewing",
        "Waist",
        "choice",
        f"A casing is turned down over the elastic; a folded band is {_both(FOLDED_BAND_HEIGHT_MM.value)} high unless "
        f"the garment has its own. {_COMMON}",
        Waist.CASING,
        (
            Option(Waist.CASING, "casing for elastic", "casing"),
            Option(Waist.ELASTIC_TURNED, "elastic sewn on and turned down", "turned"),
            Option(Waist.FOLDED_BAND, "folded waistband of its own", "band"),
        ),
    ),
    Question(
        "waist_mm",
        "sewing",
        "Body waist",
        "length",
        "Gives the length of elastic and waistband. Measure round the body, for example 52 cm.",
    ),
    Question(
        "elastic_width_mm",
        "sewing",
        "Width of the elastic",
        "length",
        f"{_both(ELASTIC_WIDTH_MM.value)} is usual for a child. {_COMMON}",
        f"{ELASTIC_WIDTH_MM.value:g} mm",
        unit="mm",
    ),
    Question(
        "waist_flat_mm",
        "sewing",
        "Waist pulled out flat",
        "length",
        "Only where elastic gathers the garment: stretch it flat and measure side to side.",
    ),
    Question(
        "band_height_mm",
        "sewing",
        "Finished height of the waistband",
        "length",
        "As on the garment where it has one.",
        needs=("waist", Waist.FOLDED_BAND),
    ),
    Question(
        "hem",
        "sewing",
        "Hem",
        "choice",
        f"Plain {_both(PLAIN_HEM_MM.value)}, mock cuff {_both(MOCK_CUFF_HEM_MM.value)}, ribbed cuff "
        f"{_both(RIB_CUFF_HEIGHT_MM.value)} high. {_COMMON}",
        Hem.PLAIN,
        (
            Option(Hem.PLAIN, "turned up once", "hem"),
            Option(Hem.MOCK_CUFF, "mock cuff, overlocked", "mock"),
            Option(Hem.RIBBED_CUFF, "ribbed cuff of its own", "cuff"),
            Option(Hem.RAW, "left raw"),
            Option(Hem.FINISHED, "a finished edge, as a T-shirt's own hem"),
        ),
    ),
    Question(
        "cuff_height_mm",
        "sewing",
        "Finished height of the cuff",
        "length",
        "As on the garment where it has one.",
        needs=("hem", Hem.RIBBED_CUFF),
    ),
    Question(
        "allowance_mm",
        "sewing",
        "Allowances of your own",
        "allowances",
        f"Where the usual ones will not do, for example: inseam 1 cm, hem 2 cm ({', '.join(EDGES_WITH_ALLOWANCE)}).",
    ),
    Question(
        "side_seam",
        "sewing",
        "Seam at the side",
        "switch",
        "Front and back as two pieces. Without it a leg is one piece, which most knits are.",
    ),
    Question(
        "share_up_to_mm",
        "sewing",
        "Make joining seams equal up to",
        "length",
        f"Front and back seams that differ by less are made equal, each giving half. {_COMMON}",
        f"{SHARE_UP_TO_MM.value:g} mm",
        unit="mm",
    ),
    Question(
        "edge_is",
        "sewing",
        "The edge of a piece taken apart is",
        "choice",
        "Only for a piece taken apart.",
        "",
        (Option("", "not said"), Option(EdgeIs.SEAM, "its seam line"), Option(EdgeIs.CUT, "the line it was cut along")),
    ),
    Question(
        "stretch_old",
        "fabric",
        "Stretch of the garment's cloth",
        "percent",
        "Fold it, hold 10 cm across, pull as far as it goes easily: to 15 cm is 50 %.",
    ),
    Question("stretch_new", "fabric", "Stretch of the new cloth", "percent", "The same on the new cloth."),
    Question(
        "shrink_long",
        "fabric",
        "The new cloth shrinks along the grain by",
        "percent",
        "Washing it before you cut is better; then leave this empty.",
    ),
    Question("shrink_wide", "fabric", "The new cloth shrinks across by", "percent", "As above."),
    Question("hip_mm", "body", "Body hip", "length", "Checks the ease, and is needed where the stretches differ."),
    Question("thigh_mm", "body", "Body thigh", "length", "The same."),
    Question("knee_mm", "body", "Body knee", "length", "The same."),
    Question("hem_mm", "body", "Body ankle", "length", "The same, where the hem sits."),
    Question("height_then_mm", "growth", "Height when it fitted", "length", "For example 104 cm."),
    Question(
        "height_now_mm",
        "growth",
        "Height now",
        "length",
        "Lengths and girths grow by published body tables where you measured nothing else.",
    ),
    Question("age_then_months", "growth", "Or age when it fitted", "age", "For example 4, or 4y6m."),
    Question(
        "age_now_months",
        "growth",
        "Age now",
        "age",
        "Heights are taken from the growth chart; measured ones are better.",
    ),
    Question(
        "sex",
        "growth",
        "Growth chart",
        "choice",
        "Needed with ages only.",
        "",
        (Option("", "not said"), Option(Sex.GIRL, "girls'"), Option(Sex.BOY, "boys'")),
    ),
    Question(
        "is_nested",
        "growth",
        "Old and new size nested in one print",
        "switch",
        "Each size has its own cut line, told apart by bars across it.",
    ),
    Question(
        "more_heights_mm",
        "growth",
        "Further heights, nested too",
        "lengths",
        "Several sizes in one print, for example 116, 122: besides the height now, above.",
    ),
    Question("waist_now_mm", "growth", "Body waist now", "length", "What you measure comes before the tables."),
    Question("waist_then_mm", "growth", "Body waist then", "length", "Else the one that the pattern was made with."),
    Question("hip_now_mm", "growth", "Body hip now", "length", "With the hip then, below."),
    Question("hip_then_mm", "growth", "Body hip then", "length", "When the garment fitted."),
    Question("inseam_mm", "growth", "Inseam wanted", "length", "Crotch to where the hem shall end."),
    Question("longer_mm", "growth", "Or simply longer by", "length", "Only the legs, for example 20 mm.", unit="mm"),
    Question(
        "units",
        "paper",
        "Lengths on the pieces in",
        "choice",
        "Every page has both.",
        Units.MM,
        (Option(Units.MM, "centimetres"), Option(Units.INCH, "inches")),
    ),
    Question(
        "paper",
        "paper",
        "Paper of the printer",
        "choice",
        "What lies in the printer at home.",
        HOME_PAPERS[0],
        tuple(Option(name, _paper_words(name)) for name in HOME_PAPERS),
    ),
    Question("has_steps", "paper", "Sewing steps as last pages", "switch", "In the order to sew.", "on"),
)

GROUPS = (
    ("garment", "The garment"),
    ("sewing", "How you sew it"),
    ("growth", "The next size"),
    ("fabric", "The new cloth"),
    ("body", "The body"),
    ("paper", "On paper"),
)
"""Parts of the form in their order, and what they are called."""


def describe_form() -> dict[str, Any]:
    """Return groups and questions as plain JSON values."""
    return {
        "groups": [{"name": name, "label": label} for name, label in GROUPS],
        "questions": [asdict(question) for question in QUESTIONS],
    }
