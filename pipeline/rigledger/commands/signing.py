"""Keys and signatures: make a key pair, sign a result set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson
from rigledger.console import plain_errors, say, say_json

if TYPE_CHECKING:
    from rigledger.signing import PrivateKey

SecretKey = Annotated[Path, typer.Option(help="Your private key, the file ending in .key.pem.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(key)
    app.command()(sign)


def key(
    place: Annotated[
        Path, typer.Argument(help="Name of the pair: anna makes anna.key.pem and anna.pem.")
    ],
    passphrase: Annotated[
        bool, typer.Option("--passphrase", help="Ask for a passphrase that locks the private key.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make a key pair for signing result sets or releases."""
    with plain_errors(as_json=as_json):
        from rigledger.signing import new_key_pair

        word = _new_passphrase() if passphrase else None
        secret, public, made = new_key_pair(place, word)
        if as_json:
            files = {"private": str(secret), "public": str(public)}
            say_json(files | {"fingerprint": made.fingerprint})
            return
        say(f"Private key: {secret}")
        say("  Keep it to yourself, with a copy in a safe place. Whoever has it can sign for you.")
        say(f"Public key: {public}")
        say("  Publish it, best where readers know you already, and its fingerprint beside it.")
        say(f"Fingerprint: {made.fingerprint}")


def sign(
    path: Annotated[Path, typer.Argument(help="Folder of a result set, or of a release.")],
    key: SecretKey,
    as_json: AsJson = False,
) -> None:
    """Sign the files of a result set as they are now, or a release that is not signed yet."""
    with plain_errors(as_json=as_json):
        from rigledger.release.sign import sign_folder

        made = sign_folder(path, read_key(key))
        if as_json:
            say_json({"folder": str(path), "fingerprint": made.fingerprint})
            return
        say(f"{path.name} is signed with the key {made.fingerprint}.")
        say("Change nothing in the folder from here on, and pass it on whole.")


def read_key(path: Path) -> PrivateKey:
    """Read a private key; asks for its passphrase where it is locked."""
    from rigledger.signing import is_locked, read_private_key

    word = typer.prompt(f"Passphrase of {path.name}", hide_input=True) if is_locked(path) else None
    return read_private_key(path, word)


def _new_passphrase() -> str:
    word: str = typer.prompt("Passphrase", hide_input=True, confirmation_prompt=True)
    return word
