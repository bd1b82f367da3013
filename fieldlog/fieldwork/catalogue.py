"""Setup plans and protocols: those that come with fieldlog, and the team's own in their place.

A team's plan or protocol with the id of a shipped one stands in for it. Each change is a new version;
the older ones stay readable, because setups and sets taken under them name theirs.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

import orjson

import fieldlog.catalogue
from fieldlog.errors import NotFoundError, RefusedError
from fieldlog.records.protocol import Protocol
from fieldlog.records.setup_plan import SAFEGUARDS, SetupPlan
from fieldlog.store.repo import Kept, Repo
from fieldlog.store.workspace import Workspace

__all__ = [
    "SAFEGUARD_WORDS",
    "plan",
    "plans",
    "protocol",
    "protocols",
    "read_shipped",
    "save_plan",
    "save_protocol",
    "shipped_plans",
    "shipped_protocols",
]

SAFEGUARD_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "range_stops": "range stops set and locked",
        "passive_trial": "range tried passively",
        "stop_switch": "stop switch tried and held",
        "straps": "straps checked",
    }
)

_Versioned = TypeVar("_Versioned", SetupPlan, Protocol)


def read_shipped(name: str) -> bytes:
    """Return the bytes of a file of the shipped catalogue, for example ``clearance.json``."""
    return (_folder() / name).read_bytes()


@functools.cache
def shipped_plans() -> Mapping[str, SetupPlan]:
    """The setup plans that come with fieldlog, by id; read once."""
    return _read_all("setup_plans", SetupPlan)


@functools.cache
def shipped_protocols() -> Mapping[str, Protocol]:
    """The protocols that come with fieldlog, by id; read once."""
    return _read_all("protocols", Protocol)


def plans(workspace: Workspace | None) -> dict[str, SetupPlan]:
    """Every plan in its present version by id, the team's own in place of shipped ones."""
    return _merged(workspace, SetupPlan, shipped_plans())


def protocols(workspace: Workspace | None) -> dict[str, Protocol]:
    """Every protocol in its present version by id, the team's own in place of shipped ones."""
    return _merged(workspace, Protocol, shipped_protocols())


def plan(workspace: Workspace | None, plan_id: str, version: int | None = None) -> SetupPlan:
    """Return a setup plan: the present version, or the one numbered ``version``.

    Raises NotFoundError where there is no such plan or version.
    """
    return _one(workspace, SetupPlan, shipped_plans(), plan_id, version)


def protocol(workspace: Workspace | None, protocol_id: str, version: int | None = None) -> Protocol:
    """Return a protocol: the present version, or the one numbered ``version``.

    Raises NotFoundError where there is no such protocol or version.
    """
    return _one(workspace, Protocol, shipped_protocols(), protocol_id, version)


def save_plan(workspace: Workspace, edited: SetupPlan, *, by: str, why: str = "") -> Kept[SetupPlan]:
    """Keep the team's own form of a plan as its next version; an unchanged plan stays as it is.

    Raises RefusedError where the plan has lost one of the four safeguards: without it no set could start.
    """
    present = {step.safeguard for step in edited.safeguards}
    for safeguard in SAFEGUARDS:
        if safeguard not in present:
            raise RefusedError(
                f"setup plan {edited.id}: no step confirms '{SAFEGUARD_WORDS[safeguard]}'",
                "keep a confirmation for each of the four safeguards",
            )
    return _save(workspace, edited, shipped_plans().get(edited.id), by=by, why=why)


def save_protocol(workspace: Workspace, edited: Protocol, *, by: str, why: str = "") -> Kept[Protocol]:
    """Keep the team's own form of a protocol as its next version; an unchanged one stays as it is.

    Raises NotFoundError where its setup plan does not exist.
    """
    plan(workspace, edited.plan_id)
    return _save(workspace, edited, shipped_protocols().get(edited.id), by=by, why=why)


def _folder() -> Path:
    return Path(fieldlog.catalogue.__path__[0])


def _read_all(folder: str, model: type[_Versioned]) -> Mapping[str, _Versioned]:
    found = [
        model.from_body(orjson.loads(path.read_bytes()))
        for path in sorted((_folder() / folder).glob("*.json"))
    ]
    return MappingProxyType({record.id: record for record in found})


def _merged(
    workspace: Workspace | None, model: type[_Versioned], shipped: Mapping[str, _Versioned]
) -> dict[str, _Versioned]:
    merged = dict(shipped)
    if workspace is not None:
        merged.update((kept.record.id, kept.record) for kept in Repo(workspace.team, model).all())
    return merged


def _one(
    workspace: Workspace | None,
    model: type[_Versioned],
    shipped: Mapping[str, _Versioned],
    wanted: str,
    version: int | None,
) -> _Versioned:
    what = model.table.removesuffix("s").replace("_", " ")
    own = Repo(workspace.team, model).get(wanted) if workspace is not None else None
    present = own.record if own else shipped.get(wanted)
    if present is None:
        known = ", ".join(sorted(_merged(workspace, model, shipped)))
        raise NotFoundError(f"no {what} is called {wanted!r}", f"there are: {known}")
    if version is None or present.version == version:
        return present
    if workspace is not None:
        for revision in workspace.team.history(model.table, wanted):
            if revision.body is not None and revision.body.get("version") == version:
                return model.from_body(revision.body)
    older = shipped.get(wanted)
    if older is not None and older.version == version:
        return older
    raise NotFoundError(
        f"version {version} of {what} {wanted!r} is not on this laptop",
        f"the present version is {present.version}; exchange with the laptop that made it",
    )


def _save(
    workspace: Workspace, edited: _Versioned, shipped: _Versioned | None, *, by: str, why: str
) -> Kept[_Versioned]:
    repo = Repo(workspace.team, type(edited))
    own = repo.get(edited.id)
    before = own.record if own else shipped
    version = before.version if before else edited.version
    if own is not None and edited.model_copy(update={"version": version}) == own.record:
        return own
    if before is not None:
        # A version that was undone keeps its number: setups and sets taken under it name it.
        version = max(version, _latest_number(workspace, edited)) + 1
    return repo.save(
        edited.model_copy(update={"version": version}), by=by, why=why, seen=own.revision if own else None
    )


def _latest_number(workspace: Workspace, edited: SetupPlan | Protocol) -> int:
    revisions = workspace.team.history(edited.table, edited.id)
    return max((int((revision.body or {}).get("version", 1)) for revision in revisions), default=1)
