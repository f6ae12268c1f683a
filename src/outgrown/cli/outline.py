"""`outgrown outline`: only the measuring part."""

from pathlib import Path

import click

from .options import choose_lens, photo_argument, replace_option, vision_options


@click.command()
@photo_argument
@click.option("--json", "json_path", type=click.Path(path_type=Path), help="Write the outline here, as JSON.")
@click.option("--check", "check_path", type=click.Path(path_type=Path), help="Write the check picture here, as PNG.")
@vision_options
@replace_option
def outline(
    photo: Path,
    json_path: Path | None,
    check_path: Path | None,
    kinds: tuple[str, ...],
    reference_at_px: tuple[float, float] | None,
    garment_at_px: tuple[list[tuple[float, float]], ...],
    floor_at_px: tuple[list[tuple[float, float]], ...],
    floor_photo: Path | None,
    thickness_mm: float,
    bar_mm: float | None,
    lens: str | None,
    may_replace: bool,
) -> None:
    """Measure the outline of any garment lying flat in PHOTO."""
    from .. import steps
    from ..camera.reference import Kind
    from ..drawer.folder import check_target, write_file
    from ..outline.hints import make_hints
    from ..photo import read_photo
    from .bar import progress_bar
    from .wording import write_findings, write_found

    targets = [path for path in (json_path, check_path) if path is not None]
    if not targets:
        raise click.UsageError("Say where to write: --json FILE, --check PNG, or both.", click.get_current_context())
    for path in targets:
        check_target(path.parent, [path.name], may_replace)
    with progress_bar() as progress:
        seen = read_photo(photo)
        traced = steps.trace_outline(
            seen,
            kinds=[Kind(k) for k in kinds] or None,
            reference_at_px=reference_at_px,
            hints=make_hints(garment_at_px, floor_at_px),
            floor=read_photo(floor_photo) if floor_photo else None,
            thickness_mm=thickness_mm,
            bar_mm=bar_mm,
            profile=choose_lens(seen, lens),
            progress=progress,
        )
        results = []
        if json_path is not None:
            results.append((json_path, steps.describe_outline(traced).encode("utf-8")))
        if check_path is not None:
            results.append((check_path, steps.draw_check(traced)))
    for path, content in results:
        write_file(path, content, may_replace)
    for line in [*write_found(traced), *write_findings(traced.findings)]:
        click.echo(line)
    for path, _ in results:
        click.echo(f"Written: {path}")
