"""Keys: one letter, one meaning in every room.

``key(name, action)`` makes a binding from the one list below, so a room cannot give a letter a
second meaning. The ids are what a settings file remaps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from textual.binding import ActiveBinding, Binding

__all__ = ["EVERYWHERE", "FOOTER_KEYS", "MEANINGS", "PANES", "Meaning", "explained", "key", "key_words"]

FOOTER_KEYS = 7
PANES = 4


@dataclass(frozen=True)
class Meaning:
    """What a key stands for: the word in the footer and the sentence in the help."""

    key: str
    word: str
    help: str


MEANINGS: dict[str, Meaning] = {
    # on the way of the tester
    "open": Meaning("enter", "open", "Open what the cursor stands on."),
    "accept": Meaning("enter", "accept", "Accept what is typed or shown and go to the next."),
    "accept_step": Meaning("space", "accept step", "Accept the step as shown and go to the next."),
    "pick": Meaning("space", "pick", "Pick or drop what the cursor stands on."),
    "note": Meaning("n", "note", "Write a note."),
    "stop": Meaning("s", "stop", "Stop: write down why the test was stopped."),
    "undo": Meaning("u", "undo", "Undo what was saved last."),
    "zero": Meaning("0", "zero", "Read the zero of the bare lever."),
    "leave_out": Meaning("x", "leave out", "Leave a repetition out, or take it back in; it stays listed."),
    "weigh": Meaning("w", "weigh", "Choose the recording of the relaxed sweep that weighs the limb."),
    "next_athlete": Meaning("greater_than_sign", "next", "Go to the next athlete."),
    "touched": Meaning("t", "touched", "Show the results that a failed check touches."),
    # going about
    "stage_1": Meaning("1", "arrive", "Stage 1: arrive."),
    "stage_2": Meaning("2", "opening check", "Stage 2: opening check."),
    "stage_3": Meaning("3", "test", "Stage 3: test."),
    "stage_4": Meaning("4", "closing check", "Stage 4: closing check."),
    "stage_5": Meaning("5", "hand over", "Stage 5: hand over."),
    "earlier": Meaning("left_square_bracket", "earlier", "Go to the earlier visit or repetition."),
    "later": Meaning("right_square_bracket", "later", "Go to the later visit or repetition."),
    "rig_log": Meaning("l", "rig log", "Open the rig log: can the rig be trusted?"),
    "squad": Meaning("q", "squad", "Open the squad: results and change."),
    "exchange": Meaning("d", "exchange", "Open the exchange: what is not yet shared, and conflicts."),
    # in the rooms
    "add": Meaning("a", "add", "Add one: a place, today's visit, an athlete."),
    "batch": Meaning(
        "p", "protocol", "Choose what it is about: protocol and athletes, a measure, single points."
    ),
    "clear": Meaning("c", "clearance", "Answer today's clearance of this athlete."),
    "setup": Meaning("space", "set up", "Walk down the setup plan step by step."),
    "import": Meaning("i", "import", "Take in a recording."),
    "watch": Meaning("I", "watch folder", "Say in which folder recordings arrive by themselves."),
    "typed": Meaning("T", "typed set", "Type peak torques by repetition where no file can be had."),
    "across": Meaning(
        "O", "across sets", "Show what several sets give together: control ratio, torque over speed."
    ),
    "again": Meaning("A", "analyse again", "Measure the recording again with other options, and say why."),
    "more": Meaning("m", "more", "Show more, or less."),
    "budget": Meaning("b", "budget", "Show what the uncertainty of this point is made of."),
    "masses": Meaning("h", "masses", "Say which lever and which masses are hung."),
    "repeat": Meaning("r", "repeat", "Do it once more; a repeated point is never punished."),
    "event": Meaning("e", "event", "Write down what happened to the rig: moved, knocked, adjusted."),
    "sign_off": Meaning("g", "sign off", "Sign the check off with name and remark."),
    "rules": Meaning("R", "run rules", "Choose which run rules are looked at."),
    "compare": Meaning("C", "compare", "Compare the same masses on two rigs."),
    "over_time": Meaning("o", "over time", "Show torque over time, or over angle again."),
    "body_mass": Meaning("k", "body mass", "Type today's body mass."),
    "not_right": Meaning("v", "not right", "It does not come right: go back to the step it depends on."),
    "stand_in": Meaning("f", "for practice", "Count the set as familiarisation, or count it again."),
    "absent": Meaning("z", "absent", "Mark the athlete as absent, or as waiting again."),
    "yes": Meaning("y", "yes", "Answer yes."),
    "no": Meaning("minus", "no", "Answer no."),
    "decide": Meaning("j", "decision", "Write down the decision of a named, qualified person."),
    "athlete_day": Meaning(
        "K",
        "the day",
        "The athlete today: body mass, footwear, warm-up, sides, times.",
    ),
    "timetable": Meaning("B", "timetable", "The order of the batch with its times, and what it saves."),
    "plans": Meaning("E", "plans", "Look at setup plans and clearance questions, or change them."),
    "people": Meaning("F", "people", "Choose whom it is about: squad, position, sex, age group, side."),
    "page": Meaning("P", "page", "Make the page of what is shown here, as a PDF."),
    "retests": Meaning("D", "retests", "Plan retests, see who waits, call them off."),
    "limits": Meaning("L", "limits", "Set the team's own limits for ratios and side differences."),
    "errors": Meaning("M", "error bank", "What changes are judged by; type in an error, name a span."),
    "call_off": Meaning("Z", "call off", "Take this off the list; it stays on record."),
    "sync": Meaning("X", "sync", "Exchange with a depot: a stick, a folder, the team base."),
    "recordings": Meaning(
        "V", "recordings", "Bring others' recordings with a sync, or leave them in the depot."
    ),
    "halt": Meaning("S", "end", "End what is running; what is done stays done."),
    "whole": Meaning("W", "whole record", "Take the whole record from one laptop, then from the next."),
    # everywhere
    "filter": Meaning("slash", "filter", "Filter the list as you type."),
    "help": Meaning("question_mark", "help", "Explain this screen, here."),
    "help_f1": Meaning("f1", "help", "Explain this screen, also while typing."),
    "commands": Meaning("ctrl+p", "commands", "Find any command by its name."),
    "back": Meaning("escape", "back", "One step back; nothing is lost."),
    "pane_1": Meaning("f5", "first list", "Go to the first list of the room."),
    "pane_2": Meaning("f6", "second list", "Go to the second list of the room."),
    "pane_3": Meaning("f7", "third list", "Go to the third list of the room."),
    "pane_4": Meaning("f8", "fourth list", "Go to the fourth list of the room."),
    "settings": Meaning("f9", "settings", "Show the settings, and what the team sets."),
    "leave": Meaning("Q", "leave", "Leave fieldlog; everything is saved."),
    "copy": Meaning(
        "ctrl+y", "copy", "Copy the line under the cursor; once more, each of its cells in turn."
    ),
    "copy_table": Meaning("ctrl+t", "copy table", "Copy the whole list, columns parted by tabs."),
}

_WORDS = {
    "enter": "enter",
    "space": "space",
    "escape": "esc",
    "slash": "/",
    "question_mark": "?",
    "greater_than_sign": ">",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "minus": "-",
    "ctrl+p": "ctrl+p",
    **{f"f{number}": f"F{number}" for number in range(1, 13)},
}


def key(
    name: str, action: str = "", *, word: str = "", show: bool = True, priority: bool = False, text: str = ""
) -> Binding:
    """Return the binding of meaning ``name``; ``word`` says it more closely where the room can.

    The action is the name itself unless given. Raises KeyError for a meaning that is not listed.
    """
    meaning = MEANINGS[name]
    return Binding(
        meaning.key,
        action or name,
        word or meaning.word,
        show=show,
        priority=priority,
        tooltip=text or meaning.help,
        id=name,
    )


EVERYWHERE = tuple(MEANINGS)[tuple(MEANINGS).index("filter") :]


def explained(bindings: Mapping[str, ActiveBinding]) -> list[tuple[str, ActiveBinding]]:
    """Return the keys that have an explanation, each meaning once; those of every room come last."""
    found: dict[str, tuple[str, ActiveBinding]] = {}
    for key_name, active in bindings.items():
        name = active.binding.id
        if name and active.binding.tooltip and name != "help_f1":
            found.setdefault(name, (key_name, active))
    return [found[name] for name in sorted(found, key=EVERYWHERE.__contains__)]


def key_words(key_name: str) -> str:
    """Return a key as it is printed on the screen."""
    return _WORDS.get(key_name, key_name)
