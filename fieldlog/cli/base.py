"""``fieldlog base prepare``: makes a PostgreSQL database the team's base."""

from __future__ import annotations

import click

from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["base"]


@click.group()
def base() -> None:
    """The team base: a depot that can be asked in SQL."""


@base.command()
@click.argument("address", metavar="URL")
@json_option
def prepare(address: str, as_json: bool) -> int:
    """Make what the base needs in the database at URL: tables, views and the two roles. May be repeated.

    Needs the right to make roles, and no workspace. Example: fieldlog base prepare postgresql://owner@host/team
    """
    from fieldlog.exchange.base_prepare import prepare_base
    from fieldlog.exchange.depot import without_password

    done = prepare_base(address)
    if as_json:
        print_json({"base": without_password(address), "schema": done.schema, "roles": list(done.roles)})
        return 0
    print_line(f"{without_password(address)} is a team base now (schema {done.schema}).")
    print_line("Give each person a login in one of the roles, for example:")
    print_line(f"  create role anna login password '…' in role {done.roles[0]};   -- adds and reads records")
    print_line(
        f"  create role lead login password '…' in role {done.roles[1]};   -- reads all, persons files too"
    )
    print_line("Then: fieldlog sync postgresql://anna@host/database")
    return 0
