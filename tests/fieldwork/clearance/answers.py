"""Nothing to report: an answer to every question of the shipped form that must have one."""

from fieldlog.fieldwork.clearance.clearances import clearance_form


def _nothing_to_report(*, minor):
    return {
        item.key: item.holds_on == "no" if item.kind == "yes_no" else 48 if item.unit == "h" else 0
        for item in clearance_form(None).asked_of(minor=minor)
        if item.must_answer
    }


CLEAR = _nothing_to_report(minor=False)
MINOR = _nothing_to_report(minor=True)
