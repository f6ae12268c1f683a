"""The command line: options, wording, exit status. Everything it knows it asks of `steps`."""

import logging
import os
import sys
from collections.abc import Sequence

# Many small products of matrices: threads of OpenBLAS wait for one another, and measuring took 2.4 times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import click

from .. import __version__
from ..errors import OutgrownError
from ..faults import write_fault
from .lazily import LazyGroup
from .speaking import Heard, said_as_heard

_NAMES = ("pattern", "grow", "lay", "paper", "drawer", "sewn", "page", "outline", "card", "lens", "demo")
MODULES = {name: f".{name}" for name in _NAMES}
"""Command -> the module that holds it under the same name."""


@click.group(
    cls=LazyGroup, modules=MODULES, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110}
)
@click.version_option(__version__, prog_name="outgrown")
@click.option("--verbose", is_flag=True, help="Write what goes on inside to the terminal.")
def commands(verbose: bool) -> None:
    """From a photo of the pair that fits to a sewing pattern at true size.

    Lay the garment flat beside a bank card or a sheet of paper, photograph it from above, and run
    `outgrown pattern PHOTO`.
    """
    if verbose:
        logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and end the process with its exit status.

    0: done; 1: our fault; 2: the person can mend it, and one sentence says how; 130: stopped by the person.
    """
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status; see `main`."""
    heard: Heard = {}
    given = None if arguments is None else list(arguments)
    try:
        commands.main(args=given, prog_name="outgrown", standalone_mode=False, obj=heard)
    except OutgrownError as error:
        click.echo(said_as_heard(heard, str(error)), err=True)
        return error.exit_status
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 2
    except click.ClickException as error:
        click.echo(said_as_heard(heard, _sentence(error)), err=True)
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped; nothing was written.", err=True)
        return 130
    except MemoryError:
        click.echo("There is not enough memory for this photo. Save a smaller copy and try again.", err=True)
        return 2
    except Exception as error:
        click.echo(
            f"That was our fault, not yours; nothing was written. What happened is in {write_fault(error)}.", err=True
        )
        return 1
    return 0


def _sentence(error: click.ClickException) -> str:
    words = " ".join(error.format_message().split())
    where = error.ctx.command_path if isinstance(error, click.UsageError) and error.ctx else "outgrown"
    return f"{words.rstrip('.')}. See “{where} --help”."
