"""``fieldlog lock`` and ``fieldlog unlock``: a workspace, or a depot, that a thief cannot read."""

from __future__ import annotations

import sys

import click

from fieldlog.cli.location import open_workspace, workspace_path
from fieldlog.cli.output import print_line
from fieldlog.errors import InputError

__all__ = ["lock", "unlock"]

ASKED_NEW = "New passphrase, 8 characters or more"


@click.command()
@click.option(
    "--set-up",
    "set_up",
    is_flag=True,
    help="Choose a passphrase and get the recovery key, once; nothing is locked yet. Example: --set-up",
)
@click.option(
    "--depot",
    metavar="ADDRESS",
    help="Lock a depot instead, while it is empty: every file brought to it is encrypted. "
    "Default: the workspace. Example: --depot /media/stick/team",
)
@click.pass_obj
def lock(given: str | None, set_up: bool, depot: str | None) -> None:
    """Lock the workspace: everything goes into one encrypted file, the plain files are removed.

    For the laptop in the bag. Close the application first. Encrypt the whole disk as well: deleted
    files may be recovered from some disks. With --depot: for the stick that may be lost.
    Example: fieldlog lock
    """
    from fieldlog.store import vault

    if depot is not None:
        if set_up:
            raise InputError(
                "--set-up and --depot", "a depot is set up and locked in one step; leave --set-up out"
            )
        _lock_depot(given, depot)
        return
    if not set_up:
        path = workspace_path(given)
        print_line(f"{path} is locked ({vault.lock(path)} files).")
        return
    with open_workspace(given) as workspace:
        recovery = vault.set_up_lock(workspace, _ask(ASKED_NEW, twice=True))
    _show_recovery(recovery)


@click.command()
@click.option(
    "--depot",
    metavar="ADDRESS",
    help="Open a locked depot instead, once for this workspace; later syncs ask nobody. "
    "Default: the workspace. Example: --depot /media/stick/team",
)
@click.pass_obj
def unlock(given: str | None, depot: str | None) -> None:
    """Unlock the workspace with its passphrase or its recovery key.

    Without a terminal it is read from the first line of standard input. Example: fieldlog unlock
    """
    from fieldlog.store import vault

    if depot is not None:
        _unlock_depot(given, depot)
        return
    path = workspace_path(given)
    count = vault.unlock(path, _ask("Passphrase or recovery key", twice=False))
    print_line(f"{path} is unlocked ({count} files).")


def _lock_depot(given: str | None, address: str) -> None:
    from fieldlog.exchange.depot import open_depot
    from fieldlog.exchange.locked_depot import lock_depot

    with open_workspace(given) as workspace:
        depot = open_depot(address, workspace=workspace.path)
        try:
            recovery = lock_depot(depot, workspace.path, _ask(ASKED_NEW, twice=True))
        finally:
            depot.close()
    print_line(f"{depot.address} is locked; this workspace has its key.")
    _show_recovery(recovery)


def _unlock_depot(given: str | None, address: str) -> None:
    from fieldlog.exchange.depot import open_depot
    from fieldlog.exchange.locked_depot import unlock_depot

    with open_workspace(given) as workspace:
        depot = open_depot(address, workspace=workspace.path)
        try:
            unlock_depot(depot, workspace.path, _ask("Passphrase or recovery key", twice=False))
        finally:
            depot.close()
    print_line(f"{depot.address} is open to this workspace; what is brought there stays locked.")


def _show_recovery(recovery: str) -> None:
    print_line(f"Recovery key: {recovery}")
    print_line("Write it on paper and keep it away from the laptop; it is shown this once only.")
    print_line(
        "Whoever loses both the passphrase and the recovery key has lost the data. Nobody can help then."
    )


def _ask(question: str, *, twice: bool) -> str:
    if sys.stdin.isatty():
        typed: str = click.prompt(question, hide_input=True, confirmation_prompt=twice, err=True)
        return typed
    return sys.stdin.readline().rstrip("\r\n")
