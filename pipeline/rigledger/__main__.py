"""Runs the command line: `python -m rigledger`, and the program `rigledger`."""

import sys

# Commands that have a set checked by a process of its own, which is loaded while this one is.
_CHECK = (["check"], ["admit"])


def main() -> None:
    """Run a command; Ctrl-C while the program is still being loaded shows no traceback either."""
    try:
        from rigledger.one_job import OneJob

        job = OneJob()
        if sys.argv[1:2] in _CHECK and "--help" not in sys.argv:
            from rigledger.child import CHECKER, begin

            begin(CHECKER)
        from rigledger.cli import app

        app()
    except SystemExit as ended:
        job.code = ended.code if isinstance(ended.code, int) else None
        raise
    except KeyboardInterrupt:
        sys.stderr.write("Stopped: nothing was begun; run the command again.\n")
        sys.exit(130)


if __name__ == "__main__":
    main()
