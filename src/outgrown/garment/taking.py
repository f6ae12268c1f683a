"""Taking: which garment an outline is taken for, and how it lies; the person's word outranks what the outline tells."""

from dataclasses import dataclass

from ..errors import GarmentError
from ..outline.outline import Outline
from .garment import Laid
from .kinds import KINDS
from .laying import recognise_laid

_WORDS = {
    Laid.FOLDED: "folded lengthwise, one leg on the other",
    Laid.OPEN: "laid open, both legs side by side",
    Laid.PANEL: "taken apart, one leg's piece",
    Laid.OTHER: "as they lie",
}


@dataclass(frozen=True)
class Taken:
    """What an outline is taken for.

    Attributes:
        kind: one of `KINDS`.
        laid: how it lies.
        is_kind_said: the person named the kind.
        is_laid_said: the person said how it lies.
    """

    kind: str
    laid: Laid
    is_kind_said: bool
    is_laid_said: bool

    def told(self) -> str:
        """Return it in words, without what to do if it is wrong."""
        words = _WORDS[self.laid]
        if not KINDS[self.kind].has_legs:
            name = "garment of another kind" if self.kind == "other" else self.kind
            what = f"Taken for a {name}, kept as it lies"
        else:
            what = f"Taken for {self.kind} {words}"
        return what + (", as you said." if self.is_kind_said and self.is_laid_said else ", told from its outline.")

    def sentence(self) -> str:
        """Return it in words, with what to type if it is wrong."""
        if self.is_kind_said and self.is_laid_said:
            return self.told()
        ways = "" if self.is_laid_said else "--laid " + "|".join(w for w in Laid if w is not self.laid)
        kinds = "" if self.is_kind_said else "--kind " + "|".join(k for k in KINDS if k != self.kind)
        return f"{self.told()} If that is wrong, say {' or '.join(filter(None, (ways, kinds)))}."


def take_for(outline: Outline, kind: str = "", laid: Laid | None = None) -> Taken:
    """Return what the outline is taken for.

    Args:
        outline: any turn.
        kind: as the person says, or empty.
        laid: as the person says, or None.

    Raises:
        GarmentError: it is said to lie as only legs can, and has none.
    """
    if kind and not KINDS[kind].has_legs:
        if laid not in (None, Laid.OTHER):
            name = "garment of another kind" if kind == "other" else kind
            raise GarmentError(
                f"A {name} is kept as it lies; only legs are read {_WORDS[laid]}.",
                "Leave --laid out, or say another --kind.",
            )
        return Taken(kind, Laid.OTHER, True, True)  # there is no other way, so it needs not be said
    way = recognise_laid(outline) if laid is None else laid
    if laid is None and kind and way is Laid.OTHER:
        way = Laid.FOLDED  # its reader says what is amiss
    told = kind or ("other" if way is Laid.OTHER else "leggings")
    return Taken(told, way, bool(kind), laid is not None)
