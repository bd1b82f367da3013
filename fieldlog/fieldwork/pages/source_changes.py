"""How the records behind a sheet differ from those it was made from, in words."""

from __future__ import annotations

from collections import Counter

from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import Source
from fieldlog.records.review import Review
from fieldlog.records.rig_check import RigCheck
from fieldlog.store.workspace import Workspace

__all__ = ["SAME_RECORDS", "differing", "what_changed"]

MOST_CHANGES = 8
SAME_RECORDS = "the same records; the figures were worked out anew, or the error of the test is better known"


def what_changed(
    workspace: Workspace, before: tuple[Source, ...], after: tuple[Source, ...]
) -> tuple[str, ...]:
    """Say in words how the sources of two revisions differ, at most a few lines."""
    said: list[str] = []
    for then, now in differing(workspace, before, after):
        if then is None and now is not None:
            said.append(f"{_named(workspace, now)}: new")
        elif now is None and then is not None:
            said.append(f"{_named(workspace, then)}: no longer counts")
        elif now is not None:
            said.append(f"{_named(workspace, now)}: changed{_reason(workspace, now)}")
    said = [f"{count} × {line}" if count > 1 else line for line, count in Counter(said).items()]
    if len(said) > MOST_CHANGES:
        rest = len(said) - MOST_CHANGES + 1
        said = [*said[: MOST_CHANGES - 1], f"and {rest} more records"]
    return tuple(said) or (SAME_RECORDS,)


def differing(
    workspace: Workspace, before: tuple[Source, ...], after: tuple[Source, ...]
) -> list[tuple[Source | None, Source | None]]:
    """The sources that came in, went out or say something else now; a change that was undone is none."""
    old = {(source.store, source.table, source.document): source for source in before}
    new = {(source.store, source.table, source.document): source for source in after}
    pairs = []
    for key in sorted(old.keys() | new.keys(), key=lambda key: (_ORDER.get(key[1], 9), key)):
        then, now = old.get(key), new.get(key)
        if then is None or now is None or not _says_the_same(workspace, then, now):
            pairs.append((then, now))
    return pairs


def _says_the_same(workspace: Workspace, then: Source, now: Source) -> bool:
    if then.revision == now.revision:
        return True
    store = next((each for each in (workspace.team, *workspace.sites.values()) if each.id == now.store), None)
    if store is None:
        return False
    one, other = store.revision(then.revision), store.revision(now.revision)
    return one is not None and other is not None and one.body == other.body


_ORDER = {"rig_checks": 0, "rig_events": 1, "reviews": 2, "sets": 3, "batches": 4}
_WORDS = {
    "athletes": "an athlete's entry",
    "batches": "the batch",
    "clearances": "a clearance",
    "kinships": "which entries are one person",
    "persons": "a name",
    "planned_retests": "a planned retest",
    "protocols": "the protocol",
    "reviews": "a review",
    "rig_events": "an event at the rig",
    "rigs": "the rig's entry",
    "setups": "a setup",
    "site": "the site's entry",
    "standards": "a reference standard",
    "stops": "a stop",
    "visits": "the visit's entry",
}


def _named(workspace: Workspace, source: Source) -> str:
    store = next((store for store in workspace.sites.values() if store.id == source.store), None)
    if store is not None and source.table == "sets":
        kept = at_site(store, EffortSet).get(source.document)
        if kept is not None:
            athlete = of_team(workspace, Athlete).get(kept.record.athlete_id)
            code = athlete.record.code if athlete else "an athlete not on this laptop"
            return f"set {kept.record.number} of {code}, {kept.record.side}"
    if store is not None and source.table == "rig_checks":
        check = at_site(store, RigCheck).get(source.document)
        if check is not None:
            record = check.record
            return f"{record.stage} check of {record.entry.rig}, {record.at:%Y-%m-%d %H:%M}, {record.verdict}"
    if store is not None and source.table == "reviews":
        review = at_site(store, Review).get(source.document)
        if review is not None:
            about = "check" if review.record.subject_table == "rig_checks" else "result"
            return f"{about} {review.record.decision.replace('_', ' ')} by {review.record.by}"
    return _WORDS.get(source.table, source.table)


def _reason(workspace: Workspace, source: Source) -> str:
    for store in (workspace.team, *workspace.sites.values()):
        revision = store.revision(source.revision)
        if revision is not None and revision.why:
            return f" ({revision.why[:120]})"
    return ""
