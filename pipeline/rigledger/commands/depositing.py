"""What is made of finished releases: a file for an archive, one page over several studies."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rigledger.commands.options import AsJson
from rigledger.console import plain_errors, say, say_json


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(deposit)
    app.command()(site)


def deposit(
    release: Annotated[Path, typer.Argument(help="Folder of a release.")],
    out: Annotated[
        Path | None, typer.Option(help="File to write; <study>-<version>.zip by default.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Pack a release into one zip file for an archive; the same bytes every time."""
    with plain_errors(as_json=as_json):
        from rigledger.release.deposit import deposit as pack

        made = pack(release, out)
        if as_json:
            held = {"file": str(made.file), "sha256": made.sha256, "bytes": made.size}
            say_json(held | {"fingerprint": made.fingerprint})
            return
        say(f"{made.file}: {made.size} bytes, SHA-256 {made.sha256}")
        say(f"Holds the release with the fingerprint {made.fingerprint}")


def site(
    studies: Annotated[list[Path], typer.Argument(help="Folders of studies that have releases.")],
    out: Annotated[Path, typer.Option(help="Folder to write; links lead from it to releases.")],
    title: Annotated[str, typer.Option(help="Title of the page and the feed.")] = "Releases",
    address: Annotated[
        str | None, typer.Option(help="Address at which it will stand, for the feed's links.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write one page and one feed over the releases of several studies."""
    with plain_errors(as_json=as_json):
        from rigledger.site.render import write_site

        shown = write_site(studies, out, title=title, address=address)
        counts = {study.name: len(study.releases) for study in shown}
        if as_json:
            say_json({"folder": str(out), "releases": counts})
            return
        for name, count in counts.items():
            say(f"{name}: {count} releases" if count != 1 else f"{name}: 1 release")
        say(f"{out / 'index.html'}")
