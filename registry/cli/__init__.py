"""The command line: parse, one transaction, one service, print."""

from __future__ import annotations

import io
import sys


def main() -> None:
    """Run `ortet`."""
    from registry.cli.app import main_command

    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show × must not undo what was said of a record that stands.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    main_command.main(prog_name="ortet")
