"""The street door: arguments in, one call of the pipeline, words out. Heavy libraries are imported inside a command only."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from bandscan.cli import words
from bandscan.cli.arguments import parser
from bandscan.errors import BandscanError, UsageError

__all__ = ["main"]

_STOPPED = 130  # a shell's number for a program that was interrupted


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives the exit status.

    Args:
        argv: the command line without the program's name; None means that of the process.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a letter shows a question mark
    told = parser().parse_args(argv)
    try:
        if told.command == "demo":
            from bandscan.cli.demo import demo

            return demo(told)
        from bandscan.cli import commands

        status: int = getattr(commands, told.command)(told)
        return status
    except UsageError as error:
        words.say(f"bandscan {told.command}: {words.advice(error, told)}")
        return error.exit_status
    except BandscanError as error:
        words.say(f"bandscan: {words.advice(error, told)}")
        return error.exit_status
    except KeyboardInterrupt:
        print("bandscan: stopped; what the log had by then is kept", file=sys.stderr)
        return _STOPPED
    except BrokenPipeError:
        # whoever read the output has left; the interpreter must not trip over it at its end
        sys.stdout = None
        return 0
