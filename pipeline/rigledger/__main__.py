"""Lets `python -m rigledger` run the command line."""

from rigledger.cli import app

app()
