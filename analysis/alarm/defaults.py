"""The alarms as they come: limits that stay quiet on a well-exposed picture.

The limits are common practice, no published source, unless one is named; every one can be set
in the settings. A rule whose value nobody supplies stays normal and silent.

*Highlights* count a pixel when any of R', G', B' or luma clips, because a lost channel is a
lost colour. One percent of the picture is about a fist-sized window in a wide shot: small
enough to matter, large enough that a glint on brass or a lamp's filament stays quiet. One
second keeps a passing reflection quiet; the lower clear level and two seconds keep a cloud's
edge from ringing twice. On skin and in a watched spot the shares are of the face or the spot,
and skin is quicker: there is no cheek to spare. One channel alone clips earlier than the whole
picture complains, so its rule speaks only while that one is silent.

*Shadows* count luma only: a saturated blue has no red in it and is still not in the dark. They
start at five percent and two seconds, because deep rafters or a black coat are allowed to be
black, and a shot whose twentieth part has no tone at all is usually a lamp that went out.

*Skin*, and a spot that has an aim, waits three seconds at half a stop beyond it, because a head
turns and a hand passes the lamp. *Drift* waits ten: it is slow or it is no drift. *Headroom* is
told by its time to clip, early enough to reach for the ND: by the trend of the last minutes
(:mod:`analysis.alarm.trend`) or by a drift of the last seconds, whichever reaches it sooner. A drift
counts when it has lasted 15 seconds, longer than the sun takes to come out from behind a cloud; at a
minute to the clip it is heard with some 40 seconds left.

*Flicker*: a tenth of a stop peak to peak is where a beat begins to be seen. *Noise*: at a
signal-to-noise ratio of 2 (6 dB), a limit to which usable stops are often counted, texture drowns;
deep shadows of a well-exposed picture commonly lie at 10 to 20 dB.

*Feed lost* waits for nothing: the feed side already gave the picture its time. It must have
been back for two seconds before it counts as back, so that a loose plug rings once. A picture
that is frozen or dark has one cause of its own and hushes what follows from it.

What the light does comes and goes with the weather. The third rise in a row, none of them ten minutes after the
last return (or the second within a minute of it), says so and stands until ten minutes were calm: about one alarm
in ten minutes is what one person can take (EEMUA 191, as commonly quoted). Twice as bad as ever before is told all
the same. A feed that is lost, a picture that froze, a changed form, a full disk are told each time: each may be a
hole in the recording.

Priorities: a lost or frozen feed loses everything (1), a clipped highlight cannot be brought back
(2), a crushed shadow can often be lifted (3).

Those of the light clear by themselves: somebody working alone, with both hands on the camera,
cannot press a key for every cloud. A lost or reshaped feed waits to be acknowledged even after
it came back, because the recording may have a hole that somebody has to know of.
"""

from __future__ import annotations

from analysis.alarm.defaults_feed import DARK, DISK, DISK_FULL, DISK_HOURS, FEED, FROZEN, OFTEN, RESHAPED
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
    often=OFTEN,
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
    often=OFTEN,
    hushed_by=("dark",),
)

SKIN_CLIPPED = AlarmRule(
    name="skin-clipped",
    kind="skin",
    direction="up",
    priority=2,
    words="skin clipping",
    advice="take the key down or add ND until the face has tone again",
    measured="clipped {value} of the face",
    limit=1.0,
    clear=0.5,
    on_delay=0.5,
    off_delay=2.0,
    self_clearing=True,
    often=OFTEN,
)

SPOT_CLIPPED = AlarmRule(
    name="spot-clipped",
    kind="highlights",
    direction="up",
    priority=2,
    words="watched spot clipping",
    advice="take light off the spot, or add ND",
    measured="clipped {value} of the spot",
    limit=2.0,
    clear=1.0,
    on_delay=1.0,
    off_delay=2.0,
    self_clearing=True,
    often=OFTEN,
)

ONE_CHANNEL = AlarmRule(
    name="one-channel",
    kind="highlights",
    direction="up",
    priority=3,
    words="one colour clipping",
    advice="a saturated light or object: soften it, or add ND",
    measured="clipped {value} of the picture in one channel alone",
    limit=0.7,
    clear=0.4,
    on_delay=5.0,
    off_delay=5.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("highlights", "skin-clipped", "spot-clipped"),
)

HEADROOM = AlarmRule(
    name="headroom",
    kind="light",
    direction="up",
    priority=3,
    words="headroom running out",
    advice="have ND ready, or close the iris before it clips",
    measured="at this rate clipping in {value}",
    far=60.0,
    far_words="not running out within an hour",
    unit="min",
    limit=3.0,
    clear=6.0,
    when="below",
    on_delay=5.0,
    off_delay=10.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("highlights",),
)

SKIN_HIGH = AlarmRule(
    name="skin-high",
    kind="skin",
    direction="up",
    priority=3,
    words="skin too bright",
    advice="take the key down, or add ND if the whole picture is up",
    measured="skin {value} above its aim",
    unit="stops",
    limit=0.5,
    clear=0.3,
    on_delay=3.0,
    off_delay=3.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("skin-clipped",),
)

SKIN_LOW = AlarmRule(
    name="skin-low",
    kind="skin",
    direction="down",
    priority=3,
    words="skin too dark",
    advice="bring the key up, or take ND off if the highlights allow it",
    measured="skin {value} below its aim",
    unit="stops",
    limit=0.5,
    clear=0.3,
    on_delay=3.0,
    off_delay=3.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("dark",),
)

SPOT_HIGH = AlarmRule(
    name="spot-high",
    kind="light",
    direction="up",
    priority=3,
    words="spot too bright",
    advice="take light off the spot, or move its aim",
    measured="spot {value} above its aim",
    unit="stops",
    limit=0.5,
    clear=0.3,
    on_delay=3.0,
    off_delay=3.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("spot-clipped",),
)

SPOT_LOW = AlarmRule(
    name="spot-low",
    kind="light",
    direction="down",
    priority=3,
    words="spot too dark",
    advice="bring light to the spot, or move its aim",
    measured="spot {value} below its aim",
    unit="stops",
    limit=0.5,
    clear=0.3,
    on_delay=3.0,
    off_delay=3.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("dark",),
)

DRIFT_UP = AlarmRule(
    name="drift-up",
    kind="hold",
    direction="up",
    priority=3,
    words="brighter than the hold",
    advice="see which light came up, and take it down; ND if all of it did",
    measured="{value} above the hold",
    unit="stops",
    limit=0.3,
    clear=0.2,
    on_delay=10.0,
    off_delay=5.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("skin-clipped",),
)

DRIFT_DOWN = AlarmRule(
    name="drift-down",
    kind="hold",
    direction="down",
    priority=3,
    words="darker than the hold",
    advice="see which light fell, and bring it back; take ND off if all of it did",
    measured="{value} below the hold",
    unit="stops",
    limit=0.3,
    clear=0.2,
    on_delay=10.0,
    off_delay=5.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("dark",),
)

FLICKER = AlarmRule(
    name="flicker",
    kind="light",
    direction="none",
    priority=3,
    words="flicker",
    advice="set the shutter to the mains, or find the lamp",
    measured="beating by {value}",
    unit="stops",
    limit=0.1,
    clear=0.06,
    on_delay=3.0,
    off_delay=5.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("dark",),
)

NOISE = AlarmRule(
    name="noise",
    kind="shadows",
    direction="none",
    priority=3,
    words="noise in the shadows",
    advice="bring up the fill, or lower the ISO and open up",
    measured="signal-to-noise ratio in the shadows {value}",
    unit="dB",
    limit=6.0,
    clear=8.0,
    when="below",
    on_delay=10.0,
    off_delay=10.0,
    self_clearing=True,
    often=OFTEN,
    hushed_by=("dark", "shadows"),
)

DEFAULT_RULES: tuple[AlarmRule, ...] = (
    FEED, HIGHLIGHTS, SHADOWS, SKIN_CLIPPED, SPOT_CLIPPED, ONE_CHANNEL, HEADROOM, SKIN_HIGH, SKIN_LOW, SPOT_HIGH,
    SPOT_LOW, DRIFT_UP, DRIFT_DOWN, FLICKER, NOISE, DARK, FROZEN, RESHAPED, DISK_FULL, DISK, DISK_HOURS,
)  # fmt: skip
"""Every alarm, the feed's first; within one cause the one that hushes is quicker or as quick."""
