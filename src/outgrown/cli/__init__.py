"""The command line: options, wording, exit status. Everything it knows it asks of `steps`."""

import logging
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence

# Many small products of matrices: threads of OpenBLAS wait for one another, and measuring took 2.4 times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import click

from .. import __version__
from ..errors import OutgrownError
from .card import card
from .demo import demo
from .grow import grow
from .lay import lay
from .lens import lens
from .outline import outline
from .pattern import pattern


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="outgrown")
@click.option("--verbose", is_flag=True, help="Write what goes on inside to the terminal.")
def commands(verbose: bool) -> None:
    """From a photo of the pair that fits to a sewing pattern at true size.

    Lay the garment flat beside a bank card or a sheet of paper, photograph it from above, and run
    `outgrown pattern PHOTO`.
    """
    if verbose:
        logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")


for command in (pattern, grow, lay, outline, card, lens, demo):
    commands.add_command(command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and end the process with its exit status.

    0: done; 1: our fault; 2: the person can mend it, and one sentence says how; 130: stopped by the person.
    """
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status; see `main`."""
    try:
        commands.main(args=None if arguments is None else list(arguments), prog_name="outgrown", standalone_mode=False)
    except OutgrownError as error:
        click.echo(str(error), err=True)
        return error.exit_status
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 2
    except click.ClickException as error:
        click.echo(_sentence(error), err=True)
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped; nothing was written.", err=True)
        return 130
    except MemoryError:
        click.echo("There is not enough memory for this photo. Save a smaller copy and try again.", err=True)
        return 2
    except Exception:
        with tempfile.NamedTemporaryFile("w", prefix="outgrown-", suffix=".log", delete=False, encoding="utf-8") as log:
            log.write(f"outgrown {__version__}, Python {sys.version}\n{traceback.format_exc()}")
        click.echo(f"That was our fault, not yours; nothing was written. What happened is in {log.name}.", err=True)
        return 1
    return 0


def _sentence(error: click.ClickException) -> str:
    words = " ".join(error.format_message().split())
    where = error.ctx.command_path if isinstance(error, click.UsageError) and error.ctx else "outgrown"
    return f"{words.rstrip('.')}. See “{where} --help”."
