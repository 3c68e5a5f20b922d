"""The command line: parse, call the workflow, show. No arithmetic.

Exit codes are those of the command contract: 0 pass or done, 3 fail, 4 cannot judge, 2 argument or file content,
5 surroundings, 130 stopped; 1 is a fault of the program and the only one that shows a traceback.
"""

import signal
import sys
from types import FrameType
from typing import NoReturn

from runtrue.errors import RuntrueError

PROGRAM = "runtrue"


def main(arguments: list[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit code."""
    _speak_any_terminal()
    _stop_on_terminate()
    sys.exit(run(arguments))


def run(arguments: list[str] | None = None) -> int:
    """Run the command line; return the exit code. Foreseeable trouble is one line on stderr."""
    from runtrue.cli.tree import command_line

    try:
        code = command_line().main(args=arguments, prog_name=PROGRAM, standalone_mode=False)
    except (Exception, KeyboardInterrupt) as error:
        trouble = _foreseen(error)
        if trouble is None:
            raise
        print(f"{PROGRAM}: {' '.join(trouble[0].split())}", file=sys.stderr)
        return trouble[1]
    return code if isinstance(code, int) else 0


def _foreseen(error: BaseException) -> tuple[str, int] | None:
    """Line and exit code of trouble that is none of the program's; None for a fault of ours."""
    import click

    if isinstance(error, RuntrueError):
        found = str(error), error.exit_code
    elif isinstance(error, click.UsageError):
        where = error.ctx.command_path if error.ctx is not None else PROGRAM
        bare = isinstance(error, click.exceptions.NoArgsIsHelpError)
        said = f"{where} needs a command" if bare else error.format_message().rstrip(".")
        found = f"{said}; see '{where} --help'", 2
    elif isinstance(error, click.ClickException):
        found = error.format_message(), 2
    elif isinstance(error, click.Abort | KeyboardInterrupt):
        found = "stopped; nothing was kept", 130
    elif isinstance(error, OSError):
        found = f"{error.strerror or error}{f' ({error.filename})' if error.filename else ''}: {_REMEDY}", 5
    elif isinstance(error, MemoryError):
        found = "the computer ran out of memory; close other programs and start again", 5
    else:
        return None
    return found


_REMEDY = "check the disk's free space and the rights to the folder, then start again"


def _speak_any_terminal() -> None:
    """A terminal that lacks a character gets a question mark and no crash."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _stop_on_terminate() -> None:
    """Being ended from outside clears the working files away, as Ctrl-C does."""

    def stop(_signal: int, _frame: FrameType | None) -> None:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # once is enough; a second would stop the clearing away
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)
