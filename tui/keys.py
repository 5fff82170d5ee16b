"""Every key of the main view: English words give the letters. One table serves keys, hints, palette and help."""

from __future__ import annotations

from typing import NamedTuple

from textual.binding import Binding


class Hint(NamedTuple):
    """One action: its id, its keys, how the key is shown, one word for the footer, a sentence for help.

    ``weight`` orders what stays in a narrow footer; 0 never shows there.
    """

    action: str
    keys: str
    shown: str
    word: str
    sentence: str
    weight: int


ACTIONS: tuple[Hint, ...] = (
    Hint("acknowledge", "a", "a", "acknowledge", "Acknowledge all alarms: you have seen them", 9),
    Hint("decide", "d", "d", "decide", "What to move, by how many stops, and what each way costs", 8),
    Hint("keep", "k", "k", "keep", "Keep what is read now as a hold, and compare with it from now on", 3),
    Hint("match", "b", "b", "beside", "The hold beside the live picture: how far apart, and what to move to match", 4),
    Hint("alarms", "o", "o", "alarms", "Open the alarms: shelve, reset, take out of service", 5),
    Hint("history", "j", "j", "journal", "What happened: alarms, turns, the feed", 1),
    Hint("say", "n", "n", "say now", "Have it spoken how things are now, where a speech engine is", 0),
    Hint("mute", "m", "m", "mute", "Silence the sounds for some minutes (it asks how many)", 8),
    Hint("unmute", "u", "u", "unmute", "End the mute at once", 0),
    Hint("sound_from", "f", "f", "sound from", "Alarms sound from speakers here, the bell, or by itself again", 0),
    Hint("trace", "t", "t", "trace", "Change the trace: luma, R G B, both", 6),
    Hint("wide", "w", "w", "wide", "Give the trace the whole width, and back", 3),
    Hint("picture", "p", "p", "picture", "Show or hide the small picture", 0),
    Hint("view", "v", "v", "view", "Change the picture: for the eye, plain signal, zones, only outside the aims", 5),
    Hint("enlarge", "e", "e", "enlarge", "Enlarge the picture: in the trace's place, nearly everything, back", 4),
    Hint("stops", "h", "h", "stops", "Show or hide how much of the picture lies at how many stops", 1),
    Hint("choose", "c", "c", "choose", "Choose the main sitter: the next one, then by size and steadiness again", 0),
    Hint("spots", "s", "s", "spots", "Place, move and name spots on the picture", 3),
    Hint("lineup", "l", "l", "line-up", "Look for colour bars or a grey ramp: is the chain true", 2),
    Hint("pause", "space", "space", "pause", "Pause the trace to look at it, and go on (numbers never pause)", 2),
    Hint("reopen", "r", "r", "reopen", "Close the feed and open it again", 1),
    Hint("redraw", "ctrl+l", "ctrl+l", "redraw", "Draw the whole screen again", 0),
    Hint("palette", "ctrl+p", "ctrl+p", "commands", "All commands by name", 0),
    Hint("manual", "question_mark,f1", "?", "help", "What everything on the screen means", 7),
    Hint("leave", "q", "q", "quit", "Quit", 10),
)
HINTS = tuple(action for action in ACTIONS if action.weight)


def bindings() -> list[Binding]:
    """The bindings of the application, each with an id so that settings can give it another key."""
    made = [
        Binding(hint.keys, hint.action, hint.word.capitalize(), tooltip=hint.sentence, id=hint.action, show=False)
        for hint in ACTIONS
        if hint.action != "palette"  # the library binds that one itself
    ]
    # These two end the program whatever has the focus.
    return [*made, Binding("ctrl+q,ctrl+c", "leave", "Quit", show=False, priority=True)]
