"""PdfLayers: parts of a PDF that a viewer shows or hides, and that print as they are shown.

They are the optional content of ISO 32000-1, 8.11. The PDF library has no call for it, but lets every object be given.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from .lettering import clean_words


class PdfLayers:
    """The layers of one document.

    Args:
        canvas: of the document.
        names: of the layers, in the order in which a viewer lists them.
    """

    def __init__(self, canvas: Canvas, names: Sequence[str]) -> None:
        self._canvas = canvas
        self._keys = {name: f"Layer{number}" for number, name in enumerate(names, start=1)}

    def __contains__(self, name: str) -> bool:
        return name in self._keys

    @contextmanager
    def open(self, name: str) -> Iterator[None]:
        """Put what is drawn meanwhile into the layer `name`."""
        self._canvas.addLiteral(f"/OC /{self._keys[name]} BDC")
        yield
        self._canvas.addLiteral("EMC")

    def finish(self) -> None:
        """Tell the document and its pages of their layers; before it is saved."""
        if not self._keys:
            return
        document = self._canvas._doc
        groups = {}
        for name, key in self._keys.items():
            words = pdfdoc.PDFString(clean_words(name))
            group = pdfdoc.PDFDictionary({"Type": pdfdoc.PDFName("OCG"), "Name": words})
            groups[key] = document.Reference(group)
        everyone = pdfdoc.PDFArray(list(groups.values()))
        # Nothing is said of printing apart from viewing, so what is seen is what is printed.
        shown = {
            "Name": pdfdoc.PDFString("Sizes"),
            "BaseState": pdfdoc.PDFName("ON"),
            "ON": everyone,
            "Order": everyone,
        }
        catalog = document.Catalog
        catalog.OCProperties = pdfdoc.PDFDictionary({"OCGs": everyone, "D": pdfdoc.PDFDictionary(shown)})
        catalog.__NoDefault__ = [*catalog.__NoDefault__, "OCProperties"]
        catalog.setPageMode("UseOC")
        for page in document.Pages.pages:
            resources = pdfdoc.PDFResourceDictionary(Properties=groups)
            resources.basicFonts()
            resources.ExtGState = page.ExtGState or {}
            page.Resources = resources
