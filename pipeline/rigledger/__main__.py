"""Runs the command line: `python -m rigledger`, and the program `rigledger`."""

import sys


def main() -> None:
    """Run a command; Ctrl-C while the program is still being loaded shows no traceback either."""
    try:
        from rigledger.cli import app

        app()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped: nothing was begun; run the command again.\n")
        sys.exit(130)


if __name__ == "__main__":
    main()
