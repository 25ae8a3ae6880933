"""The command line: a thin layer over :class:`refarchive.archive.Archive`.

With `--json` every command prints one JSON document on standard output and nothing else there; progress and notices go
to standard error. Exit 0: done. 1: a named problem, one sentence and the next step. 2: wrong usage. 130: interrupted by
Ctrl-C. Never a traceback.
"""

from __future__ import annotations

import os
import sys

import click

from refarchive.cli import commands, describing, evidence, exchange, frames, onsite, packs, publish, rights, wall  # noqa: F401 (each module adds its commands)
from refarchive.cli.answering import GOES_ON, Interrupted, cli, visible_text
from refarchive.errors import RefArchiveError

__all__ = ["cli", "main"]


def main() -> None:
    """Entry point of the command `refarchive`."""
    try:
        code = cli.main(prog_name="refarchive", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.ClickException as wrong:
        wrong.show()
        code = 2
    except (KeyboardInterrupt, click.Abort) as stop:
        told = [str(one) for one in (stop, stop.__cause__) if isinstance(one, Interrupted)]  # click hides the first
        problem("Stopped.", *(told or [GOES_ON]))
        code = 130  # as shells tell of what was interrupted: 128 and the number of the signal
    except RefArchiveError as error:
        problem(error.problem, error.next_step)
        code = 1
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    except OSError as error:
        problem(
            f"{error.strerror or error}: {error.filename or 'a file'}.",
            "Check the path, its permissions and the space left.",
        )
        code = 1
    except Exception as error:
        if os.environ.get("REFARCHIVE_TRACEBACK"):
            raise
        problem(
            f"Something went wrong that has no name yet ({type(error).__name__}: {error}).",
            "Set REFARCHIVE_TRACEBACK=1, give the command again and send what it prints.",
        )
        code = 1
    sys.exit(code if isinstance(code, int) else 0)


def problem(problem: str, next_step: str) -> None:
    for line in (problem, next_step):
        if line:
            click.echo(visible_text(line), err=True)
