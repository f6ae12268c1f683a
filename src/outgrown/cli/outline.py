"""`outgrown outline`: only the measuring part."""

from pathlib import Path
from typing import Any

import click

from ..units import Units
from .options import photo_argument, replace_option, vision_options
from .speaking import units_option
from .tracing import trace_photo


@click.command(short_help="Measure the outline of any garment lying flat.")
@photo_argument
@click.option("--json", "json_path", type=click.Path(path_type=Path), help="Write the outline here, as JSON.")
@click.option("--check", "check_path", type=click.Path(path_type=Path), help="Write the check picture here, as PNG.")
@vision_options
@units_option(Units.MM.value, show_default=True, help="Units that you are told in; the JSON is in millimetres.")
@replace_option
def outline(
    photo: Path,
    json_path: Path | None,
    check_path: Path | None,
    units: str,
    may_replace: bool,
    **vision: Any,
) -> None:
    """Measure the outline of any garment lying flat in PHOTO."""
    from .. import steps
    from ..drawer.folder import check_file, write_file
    from .bar import progress_bar
    from .wording import write_findings, write_found

    targets = [path for path in (json_path, check_path) if path is not None]
    if not targets:
        raise click.UsageError("Say where to write: --json FILE, --check PNG, or both.", click.get_current_context())
    if len({path.absolute() for path in (photo, *targets)}) <= len(targets):
        raise click.UsageError("The photo, --json and --check must be different files.", click.get_current_context())
    for path in targets:
        check_file(path, may_replace)
    with progress_bar() as progress:
        traced = trace_photo(photo, vision, progress)
        results = []
        if json_path is not None:
            results.append((json_path, steps.describe_outline(traced).encode("utf-8")))
        if check_path is not None:
            results.append((check_path, steps.draw_check(traced, units=Units(units))))
    for path, content in results:
        write_file(path, content, may_replace)
    for line in [*write_found(traced, Units(units)), *write_findings(traced.findings, Units(units))]:
        click.echo(line)
    for path, _ in results:
        click.echo(f"Written: {path}")
