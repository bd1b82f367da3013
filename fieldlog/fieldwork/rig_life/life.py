"""A rig's life over all sites: its checks with the names of their sites, and the run rules they are looked at by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fieldlog.analysis.charts import DEFAULT_RULES, RUN_RULES
from fieldlog.errors import InputError
from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig, event_facts
from fieldlog.fieldwork.rig_life.rig_history import HistoricCheck, history
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.store.workspace import Workspace

__all__ = ["historic_checks", "rig_life", "run_rules"]


def historic_checks(workspace: Workspace, rig_identity: str) -> list[HistoricCheck]:
    """All checks of a rig with the names of their sites, in order of time."""
    names = {site_of(store).id: site_of(store).name for store in workspace.sites.values()}
    return [
        HistoricCheck(
            id=check.id,
            at=check.at,
            site=names.get(check.site_id, check.site_id),
            stage=check.stage,
            state=check.state,
            judged=check.judged,
            entry=check.entry,
        )
        for check in checks_of_rig(workspace, rig_identity)
    ]


def rig_life(
    workspace: Workspace, name_or_id: str, *, rules: Sequence[int] = DEFAULT_RULES
) -> dict[str, Any]:
    """The life of a rig over all sites, as ``fieldlog history --json`` prints it.

    ``rules`` choose the run rules (numbers of ``charts.RUN_RULES``). Raises NotFoundError where no rig has
    this name or id.
    """
    rig = rig_named(workspace, name_or_id).record
    checks = historic_checks(workspace, rig.id)
    return history(rig.name, checks, event_facts(workspace, rig.id), rules=rules)


def run_rules(typed: str) -> tuple[int, ...]:
    """Return the run rules that were typed by number, commas or blanks between. Raises InputError for no number of one."""
    words = typed.replace(",", " ").split()
    known = {str(number) for number in RUN_RULES}
    wrong = next((word for word in words if word not in known), None)
    if wrong is not None:
        raise InputError(
            f"there is no run rule {wrong[:20]!r}",
            f"numbers from 1 to {max(RUN_RULES)}, commas or blanks between",
        )
    return tuple(sorted({int(word) for word in words}))
