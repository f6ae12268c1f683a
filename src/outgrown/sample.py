"""Sample: the photo that comes with the program."""

from pathlib import Path

from .errors import PhotoError


def find_sample_photo() -> Path:
    """Return the photo that comes with the program, installed or in a checkout.

    Raises:
        PhotoError: it is missing.
    """
    package = Path(__file__).resolve().parent
    for place in (package / "fixtures" / "demo.jpg", package.parents[1] / "fixtures" / "demo.jpg"):
        if place.is_file():
            return place
    raise PhotoError("The photo that comes with the program is missing.", "Install the program again.")
