"""`outgrown lens`: learn a phone's lens from photos of the lens sheet."""

from pathlib import Path

import click

from .options import replace_option


@click.command(short_help="Learn your phone's lens, once.")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...", type=click.Path(path_type=Path))
@click.option("--out", "path", type=click.Path(path_type=Path), help="Write the profile here, instead of keeping it.")
@replace_option
def lens(photos: tuple[Path, ...], path: Path | None, may_replace: bool) -> None:
    """Learn your phone's lens from 4 to 8 PHOTOs of the lens sheet that `outgrown card` makes.

    It is kept, and used by itself for every later photo taken with the same lens. It has to be done once for each
    lens of a phone; what it bends is then known, even with one bank card in the photo.
    """
    from .. import steps
    from ..drawer.folder import check_file, write_file
    from ..photo import read_photo
    from .bar import progress_bar

    if path is not None:
        check_file(path, may_replace)
    with progress_bar() as progress:
        seen = []
        for index, photo in enumerate(photos):
            progress("looking at the photos", index / (len(photos) + 1))
            seen.append(read_photo(photo))
        progress("learning the lens", len(photos) / (len(photos) + 1))
        profile = steps.learn_lens(seen)
    if path is None:
        path = steps.keep_lens(profile)
        use = f"It is used by itself for photos taken with this lens of {profile.make} {profile.model}.".replace(
            "  ", " "
        )
    else:
        write_file(path, steps.describe_lens(profile).encode("utf-8"), may_replace)
        use = f"Name it when you measure a photo: --lens {path}"
    k1 = profile.distortion[0]
    click.echo(
        f"Learned from {profile.photos} photos: focal length {profile.focal_px:.0f} px, "
        f"distortion k1 {k1:+.3f} ± {profile.doubts.k1:.3f}; "
        f"the sheet's corners fit to {profile.doubts.residual_px:.2f} px."
    )
    click.echo(f"Written: {path}")
    click.echo(use)
