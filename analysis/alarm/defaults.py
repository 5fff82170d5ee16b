"""The alarms as they come: limits that stay quiet on a well-exposed picture.

The limits are common practice, no published source; every one can be set in the settings.

*Highlights* count a pixel when any of R', G', B' or luma clips, because a lost channel is a
lost colour. One percent of the picture is about a fist-sized window in a wide shot: small
enough to matter, large enough that a glint on brass or a lamp's filament stays quiet. One
second keeps a passing reflection quiet; the lower clear level and two seconds keep a cloud's
edge from ringing twice.

*Shadows* count luma only: a saturated blue has no red in it and is still not in the dark. They
start at five percent and two seconds, because deep rafters or a black coat are allowed to be
black, and a shot whose twentieth part has no tone at all is usually a lamp that went out.

*Feed lost* waits for nothing: the feed side already gave the picture its time. It must have
been back for two seconds before it counts as back, so that a loose plug rings once.

Priorities: a lost feed loses everything (1), a clipped highlight cannot be brought back (2),
a crushed shadow can often be lifted (3).

Highlights and shadows clear by themselves: somebody working alone, with both hands on the
camera, cannot press a key for every cloud. A lost feed waits to be acknowledged even after it
came back, because the recording may have a hole that somebody has to know of.
"""

from __future__ import annotations

from analysis.alarm.rule import AlarmRule

HIGHLIGHTS = AlarmRule(
    name="highlights",
    kind="highlights",
    direction="up",
    priority=2,
    words="highlights clipping",
    advice="add ND, or take light off the bright part",
    measured="clipped {value} of the picture",
    limit=1.0,
    clear=0.6,
    on_delay=1.0,
    off_delay=2.0,
    self_clearing=True,
)

SHADOWS = AlarmRule(
    name="shadows",
    kind="shadows",
    direction="down",
    priority=3,
    words="shadows crushed",
    advice="bring up the fill, or take ND off if the highlights allow it",
    measured="crushed {value} of the picture",
    limit=5.0,
    clear=3.0,
    on_delay=2.0,
    off_delay=2.0,
    self_clearing=True,
)

FEED = AlarmRule(
    name="feed",
    kind="feed",
    direction="none",
    priority=1,
    words="feed lost",
    advice="check cable, camera power and its video output",
    on_delay=0.0,
    off_delay=2.0,
)

DEFAULT_RULES: tuple[AlarmRule, ...] = (FEED, HIGHLIGHTS, SHADOWS)
