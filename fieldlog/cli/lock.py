"""``fieldlog lock`` and ``fieldlog unlock``: a workspace as one file that a thief cannot read."""

from __future__ import annotations

import sys

import click

from fieldlog.cli.location import open_workspace, workspace_path
from fieldlog.cli.output import print_line

__all__ = ["lock", "unlock"]


@click.command()
@click.option(
    "--set-up",
    "set_up",
    is_flag=True,
    help="Choose a passphrase and get the recovery key, once; nothing is locked yet. Example: --set-up",
)
@click.pass_obj
def lock(given: str | None, set_up: bool) -> None:
    """Lock the workspace: everything goes into one encrypted file, the plain files are removed.

    For the laptop in the bag. Close the application first. Encrypt the whole disk as well: deleted
    files may be recovered from some disks. Example: fieldlog lock
    """
    from fieldlog.store import vault

    if not set_up:
        path = workspace_path(given)
        print_line(f"{path} is locked ({vault.lock(path)} files).")
        return
    with open_workspace(given) as workspace:
        recovery = vault.set_up_lock(workspace, _ask("New passphrase", twice=True))
    print_line(f"Recovery key: {recovery}")
    print_line("Write it on paper and keep it away from the laptop; it is shown this once only.")
    print_line(
        "Whoever loses both the passphrase and the recovery key has lost the data. Nobody can help then."
    )


@click.command()
@click.pass_obj
def unlock(given: str | None) -> None:
    """Unlock the workspace with its passphrase or its recovery key.

    Without a terminal it is read from the first line of standard input. Example: fieldlog unlock
    """
    from fieldlog.store import vault

    path = workspace_path(given)
    count = vault.unlock(path, _ask("Passphrase or recovery key", twice=False))
    print_line(f"{path} is unlocked ({count} files).")


def _ask(question: str, *, twice: bool) -> str:
    if sys.stdin.isatty():
        typed: str = click.prompt(question, hide_input=True, confirmation_prompt=twice, err=True)
        return typed
    return sys.stdin.readline().rstrip("\r\n")
