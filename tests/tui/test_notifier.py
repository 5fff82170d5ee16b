"""Notifications: each announcement once, few of them, none while muted, and none that a text could break out of."""

from __future__ import annotations

import re

import pytest

from analysis.model.alarm import Announcement
from analysis.model.instant import Instant
from analysis.model.snapshot import OutletStatus, Snapshot
from analysis.output.notify import choose_notification
from tests.tui.synthetic import START, alarm, snapshot
from tui.notifier import LEAST_SECONDS, STALE_SECONDS, Notifier

XTERM = {"TERM": "xterm-256color"}
BELL = OutletStatus(outlet="bell", reason="terminal bell: you are connected over SSH")
SPEAKERS = OutletStatus(outlet="speakers", reason="speakers of this machine")


def told(name: str = "highlights", priority: int = 2, at: float = 0.0, **more) -> Announcement:
    given = {
        "alarm": name, "occurrence": 1, "kind": "highlights", "direction": "up", "priority": priority,
        "words": f"{name} clipping", "at": Instant(START.monotonic + at, START.utc + at),
    }  # fmt: skip
    return Announcement(**(given | more))


class Watched:
    """A watch that announces, and a notifier that looks at it."""

    def __init__(self, wish: str = "osc9", outlet: OutletStatus = BELL, **environment: str) -> None:
        self.notifier = Notifier(choose_notification(wish, XTERM | environment, is_terminal=True))  # type: ignore[arg-type]
        self.outlet = outlet
        self.announced: tuple[Announcement, ...] = ()
        self.count = 0

    def announce(self, *announcements: Announcement) -> None:
        self.announced = (*self.announced, *announcements)[-8:]
        self.count += len(announcements)

    def look(self, seconds: float) -> list[str]:
        moment: Snapshot = snapshot(
            seconds=seconds,
            outlet=self.outlet,
            announced=self.announced,
            announcements=self.count,
            alarms=(alarm("highlights", "active-unacknowledged"),),
        )
        return self.notifier.see(moment)


def test_an_announcement_is_sent_once_with_what_to_do() -> None:
    watched = Watched()
    assert watched.look(0.0) == []
    watched.announce(told())
    assert watched.look(0.1) == [
        "\x1b]9;stopkeeper: scene:boathouse: highlights clipping. close by 1/3 stop or add ND 0.3\x1b\\"
    ]
    assert [watched.look(0.2 + tick) for tick in range(20)] == [[]] * 20


def test_the_same_alarm_again_is_sent_again() -> None:
    watched = Watched()
    watched.announce(told())
    watched.look(0.1)
    watched.announce(told(at=60.0, again=True))
    assert "still highlights clipping" in watched.look(60.1)[0]


def test_many_at_once_are_one_notification_with_the_gravest_first() -> None:
    watched = Watched()
    watched.announce(*(told(f"spot {n}", 3) for n in range(4)), told("feed", 1, words="feed lost"))
    sent = watched.look(0.1)
    assert len(sent) == 1
    assert "feed lost" in sent[0] and sent[0].index("feed lost") < sent[0].index("spot 0")


def test_what_comes_too_soon_waits_and_is_joined() -> None:
    watched = Watched()
    watched.announce(told("one", at=0.0))
    assert len(watched.look(0.1)) == 1
    watched.announce(told("two", at=0.5))
    assert watched.look(0.5) == []
    watched.announce(told("three", at=1.0))
    assert watched.look(1.0) == []
    sent = watched.look(0.1 + LEAST_SECONDS)
    assert len(sent) == 1 and "two" in sent[0] and "three" in sent[0]
    assert watched.look(10.0) == []


def test_priority_one_does_not_wait() -> None:
    watched = Watched()
    watched.announce(told("one"))
    watched.look(0.1)
    watched.announce(told("feed", 1, 0.4, words="feed lost"))
    assert "feed lost" in watched.look(0.4)[0]


def test_a_storm_of_announcements_is_bounded() -> None:
    watched, sent = Watched(), 0
    for tick in range(600):  # a minute at ten looks a second, ten alarms at each
        watched.announce(*(told(f"spot {n}", 2, tick / 10) for n in range(10)))
        sent += len(watched.look(tick / 10))
    assert 25 <= sent <= 31, "one every two seconds"


@pytest.mark.parametrize("seconds", [0.1, 300.0])
def test_what_a_mute_kept_silent_is_not_sent_later(seconds: float) -> None:
    watched = Watched(outlet=OutletStatus(outlet="bell", reason="", muted_seconds=seconds))
    watched.announce(told())
    assert watched.look(0.1) == []
    watched.outlet = BELL
    assert watched.look(1.0) == []


def test_auto_follows_the_bell_and_begins_when_the_speakers_are_lost() -> None:
    watched = Watched("auto", SPEAKERS)
    watched.announce(told())
    assert watched.look(0.1) == []
    watched.outlet = OutletStatus(outlet="bell", reason="terminal bell: the sound device is gone")
    assert watched.look(0.2) == [], "that one was heard"
    watched.announce(told("shadows", at=5.0))
    assert len(watched.look(5.0)) == 1


def test_what_was_asked_for_is_sent_beside_the_speakers() -> None:
    watched = Watched("osc777", SPEAKERS)
    watched.announce(told())
    assert watched.look(0.1)[0].startswith("\x1b]777;notify;")


def test_off_sends_nothing_and_says_so() -> None:
    watched = Watched("off")
    watched.announce(told())
    assert watched.look(0.1) == []
    assert watched.notifier.words == "no notifications: not asked for"


def test_inside_tmux_it_is_passed_through() -> None:
    watched = Watched("osc9", TMUX="/tmp/tmux-1000/default,1,0")
    watched.announce(told())
    assert re.fullmatch(r"\x1bPtmux;\x1b\x1b\]9;[^\x1b]*\x1b\x1b\\\x1b\\", watched.look(0.1)[0])


def test_words_cannot_break_out() -> None:
    watched = Watched()
    watched.announce(told(words="lost\x1b\\\x1b]0;owned\x07\x9c;x"))
    assert re.fullmatch(r"\x1b\]9;[^\x00-\x1f\x7f-\x9f]*\x1b\\", watched.look(0.1)[0])


def test_what_is_old_when_the_terminal_is_first_looked_at_is_not_news() -> None:
    watched = Watched()
    watched.announce(told(at=0.0))
    assert watched.look(STALE_SECONDS + 1.0) == []


def test_more_announcements_than_the_snapshot_holds_are_not_made_up() -> None:
    watched = Watched()
    watched.announce(*(told(f"spot {n}") for n in range(20)))
    sent = watched.look(0.1)
    assert len(sent) == 1 and "spot 19" in sent[0] and "spot 3 " not in sent[0]
