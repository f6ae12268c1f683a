"""Form: the answers to the page's questions, as typed, become what the library wants."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from ..camera.targets import BAR_MM, PRINTED_BARS_MM
from ..errors import PieceError
from ..names import LONGEST_NAME
from ..outline.pulling import Pull
from ..paper.choices import Form, read_printed_bar_mm
from ..paper.correction import make_correction
from ..paper.forms import Drawing
from ..pieces.choices import EDGES_WITH_ALLOWANCE, Choices
from ..pieces.fabric import Fabric
from ..pieces.growth import Growth
from ..units import Units, read_age_months, read_length_mm
from .questions import QUESTIONS, Question

_CHOICES = frozenset(Choices.__dataclass_fields__)
_FABRIC = frozenset(Fabric.__dataclass_fields__)
_GROWTH = frozenset(Growth.__dataclass_fields__)
_BARS = ("bar_across", "bar_down")
_MOST_PULLS = 200


class AnswerError(PieceError):
    """An answer cannot be read.

    Args:
        question: its name.
        problem: what was seen, one sentence.
        advice: what to do about it, one sentence.
    """

    def __init__(self, question: str, problem: str, advice: str = "") -> None:
        super().__init__(problem, advice)
        self.question = question


@dataclass(frozen=True)
class Settings:
    """Everything a person decided about one garment.

    Attributes:
        choices: of the pattern.
        fabric: of cloth and body.
        growths: of the child, one for each new size; none for the size as it is.
        is_nested: the size as it is and the new ones are drawn in one another.
        has_steps: sewing steps are printed.
        paper: of the printer, where it was said; a pattern from the drawer has its own.
        pulls: where the outline was drawn, by photo.
        corners_px: where corners were put, in the first photo.
        is_named: the garment was given a name; else it is called what it is taken for.
    """

    choices: Choices
    fabric: Fabric
    growths: tuple[Growth, ...] = ()
    is_nested: bool = False
    has_steps: bool = True
    paper: str | None = None
    pulls: Mapping[str, tuple[Pull, ...]] = field(default_factory=dict)
    corners_px: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    is_named: bool = False


def read_settings(said: Mapping[str, Any]) -> Settings:
    """Return the settings for answers by name of the question, as typed.

    Raises:
        PieceError: an answer cannot be read.
    """
    answers = said.get("answers")
    if not isinstance(answers, Mapping):
        raise PieceError("No answers were given.", "Load the page anew.")
    values: dict[str, Any] = {}
    for question in QUESTIONS:
        if not _matters(question, answers):
            continue
        try:
            value = _read(question, answers.get(question.name))
        except PieceError as error:
            raise AnswerError(question.name, error.problem, error.advice) from error
        if value is not None:
            values[question.name] = value
    grown = {name: value for name, value in values.items() if name in _GROWTH and value}
    growths = _read_growths(grown, values.get("more_heights_mm") or ())
    if values.get("is_nested") and not growths:
        raise AnswerError("is_nested", "There is no new size yet to nest.", "Say above how the child has grown.")
    choices = {name: value for name, value in values.items() if name in _CHOICES}
    choices["date"] = date.today().isoformat()
    return Settings(
        choices=Choices.from_json(choices),
        fabric=Fabric(**{name: value for name, value in values.items() if name in _FABRIC}),
        growths=growths,
        is_nested=bool(values.get("is_nested") or values.get("more_heights_mm")),
        has_steps=bool(values.get("has_steps", True)),
        paper=str(values["paper"]) if answers.get("paper") else None,
        pulls=read_pulls(said.get("pulls")),
        corners_px=_read_corners(said.get("corners")),
        is_named="title" in choices,
    )


def read_units(said: Mapping[str, Any]) -> Units:
    """Return the units chosen among the answers; the usual ones where nothing known was."""
    answers = said.get("answers")
    chosen = answers.get("units") if isinstance(answers, Mapping) else None
    return Units(chosen) if chosen in list(Units) else Units.MM


def _read_growths(grown: Mapping[str, Any], more_heights_mm: Sequence[float]) -> tuple[Growth, ...]:
    """Return what is known of the child, once for each height."""
    if not grown and not more_heights_mm:
        return ()
    first = Growth.from_json(grown)
    heights = [first.height_now_mm, *more_heights_mm] if first.height_now_mm is not None else [*more_heights_mm]
    try:
        return tuple(replace(first, height_now_mm=height) for height in heights) or (first,)
    except PieceError as error:  # the first is read: a further one is meant
        raise AnswerError("more_heights_mm", error.problem, error.advice) from error


def read_drawing(said: Mapping[str, str]) -> Drawing:
    """Return the form to draw a pattern in, for answers by name as typed.

    Raises:
        PieceError: an answer cannot be read, or does not go with the form.
    """

    def length(name: str, read: Callable[[str], float] = read_length_mm) -> float | None:
        words = said.get(name, "").strip()
        try:
            return read(words) if words else None
        except ValueError as error:
            raise PieceError(f"{str(error).rstrip('.')}.") from error

    form = said.get("form", Form.TILES)
    if form not in list(Form):
        raise PieceError(f"“{form}” is no form known here.", f"Choose one of {', '.join(Form)}.")
    bars = [[bar] if (bar := length(name, read_printed_bar_mm)) is not None else [] for name in _BARS]
    if said.get("corrected") and not any(bars):
        raise PieceError("It is not said what the bars measure.", "Measure both bars of your print, from 0 to 10 cm.")
    return Drawing(
        Form(form),
        paper=said.get("paper") or None,
        is_untrimmed=bool(said.get("untrimmed")),
        roll_mm=length("roll"),
        is_dark=bool(said.get("dark")),
        correction=make_correction(*bars),
    )


def read_bar_mm(text: str) -> float:
    """Return what the bar of printed targets measures [mm], as typed; without a unit in mm.

    Raises:
        PieceError: no length, or none that a printer makes of it.
    """
    try:
        length = read_length_mm(text, "mm")
    except ValueError as error:
        raise PieceError(str(error)) from error
    if not PRINTED_BARS_MM[0] <= length <= PRINTED_BARS_MM[1]:
        raise PieceError(
            f"The bar is {BAR_MM:.0f} mm long and cannot have become {length:.1f} mm.", "Measure it from end to end."
        )
    return length


def _matters(question: Question, answers: Mapping[str, Any]) -> bool:
    """Tell whether a question is shown: what was typed before it was hidden counts no more."""
    if not question.needs:
        return True
    name, value = question.needs
    default = next(other.default for other in QUESTIONS if other.name == name)
    return str(answers.get(name) or default) == value


def _read(question: Question, answer: Any) -> Any:
    """Return the answer as the library wants it, or None where nothing was said."""
    if question.kind == "switch":
        return bool(answer) if answer is not None else None
    text = str(answer if answer is not None else question.default).strip()
    if len(text) > LONGEST_NAME:
        raise PieceError(f"“{question.label}” is too long.", f"Use at most {LONGEST_NAME} characters.")
    if not text:
        return None
    if question.kind == "choice":
        if text not in {option.value for option in question.options}:
            raise PieceError(f"“{text}” is no answer to “{question.label}”.", "Choose one of those shown.")
        return text
    if question.kind == "length":
        try:
            return read_length_mm(text, question.unit)
        except ValueError as error:
            raise PieceError(f"{question.label}: {error}") from error
    if question.kind == "age":
        try:
            return read_age_months(text)
        except ValueError as error:
            raise PieceError(f"{question.label}: {error}") from error
    if question.kind == "lengths":
        return _read_lengths(question, text)
    if question.kind == "allowances":
        return _read_allowances(text)
    if question.kind == "percent":
        try:
            return float(text.removesuffix("%").strip().replace(",", ".")) / 100.0
        except ValueError as error:
            raise PieceError(f"{question.label}: “{text}” is not a percentage.", "Write it like 40.") from error
    return text


def _read_lengths(question: Question, text: str) -> list[float]:
    """Return lengths [mm] for `116, 122 cm`: a unit given once, at the end, is that of all."""
    parts = [part.strip() for part in re.split(r";|,\s|\s+and\s+|,(?!\d\b)", text) if part.strip()]
    unit = re.search(r"[a-z\"″]+$", parts[-1], re.IGNORECASE) if parts else None
    try:
        return [read_length_mm(part, unit[0] if unit else question.unit) for part in parts]
    except ValueError as error:
        raise PieceError(f"{question.label}: {error}") from error


_ALLOWANCE = re.compile(r"(?P<edge>[a-z ]+?)(?:\s*[:=]\s*|\s+)(?P<length>[\d.,/ ]+\s*[a-z\"″]*)$", re.IGNORECASE)


def _read_allowances(text: str) -> dict[str, float]:
    """Return edge -> allowance [mm] for `inseam 1 cm, hem 2 cm`."""
    found = {}
    for part in re.split(r";|,(?!\d)", text):
        match = _ALLOWANCE.match(part.strip())
        edge = match["edge"].strip().lower() if match else ""
        if match is None or edge not in EDGES_WITH_ALLOWANCE:
            names = ", ".join(EDGES_WITH_ALLOWANCE)
            raise PieceError(f"“{part.strip()}” is not an allowance.", f"Write it like inseam 1 cm ({names}).")
        try:
            found[edge] = read_length_mm(match["length"], "cm")
        except ValueError as error:
            raise PieceError(str(error)) from error
    return found


def read_pulls(said: Any) -> dict[str, tuple[Pull, ...]]:
    """Return where the outline was drawn, by photo.

    Raises:
        PieceError: they are not places, or too many.
    """
    if said is None:
        return {}
    try:
        pulls = {
            str(role): tuple(Pull(_place(pull["from"]), _place(pull["to"])) for pull in of_photo)
            for role, of_photo in said.items()
        }
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        raise PieceError("The places drawn on the photo cannot be read.", "Load the page anew.") from error
    if sum(map(len, pulls.values())) > _MOST_PULLS:
        raise PieceError("The outline was drawn at too many places.", "Say with the brush what is garment and floor.")
    return pulls


def _read_corners(said: Any) -> dict[str, tuple[float, float]]:
    try:
        return {str(name): _place(place) for name, place in (said or {}).items()}
    except (TypeError, ValueError, AttributeError) as error:
        raise PieceError("The corners cannot be read.", "Load the page anew.") from error


def _place(values: Any) -> tuple[float, float]:
    x, y = values
    return float(x), float(y)
