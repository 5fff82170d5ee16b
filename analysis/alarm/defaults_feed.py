"""The alarms that are not of the light: the feed, the picture as such, the disk.

What they are for, and why they have these delays, stands with the others in :mod:`analysis.alarm.defaults`.
"""

from __future__ import annotations

from analysis.alarm.rule import AlarmRule

OFTEN = 3
"""Two may be chance, from the third on it is the weather: clouds, a door, somebody who leans in and out."""

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

DARK = AlarmRule(
    name="dark",
    kind="picture",
    direction="down",
    priority=2,
    words="picture dark",
    advice="lens cap, lights, or a camera that sends nothing",
    off_delay=2.0,
    self_clearing=True,
    often=OFTEN,
    of_picture=False,
    hushed_by=("feed",),
)

FROZEN = AlarmRule(
    name="frozen",
    kind="picture",
    direction="none",
    priority=1,
    words="picture frozen",
    advice="check the camera: the feed runs but the picture does not change",
    off_delay=2.0,
    of_picture=False,
    hushed_by=("feed",),
)

RESHAPED = AlarmRule(
    name="reshaped",
    kind="picture",
    direction="none",
    priority=3,
    words="feed changed its form",
    advice="check the camera's output; spots and limits may no longer fit",
    off_delay=5.0,
    of_picture=False,
    hushed_by=("feed",),
)

DISK_FULL = AlarmRule(
    name="disk-full",
    kind="disk",
    direction="none",
    priority=1,
    words="disk nearly full",
    advice="make room now, or what happens is no longer kept",
    measured="{value} free",
    unit="GiB",
    limit=0.5,
    clear=0.6,
    when="below",
    on_delay=10.0,
    off_delay=10.0,
    of_picture=False,
)

DISK = AlarmRule(
    name="disk",
    kind="disk",
    direction="none",
    priority=2,
    words="disk filling",
    advice="make room where the journal lies",
    measured="{value} free",
    unit="GiB",
    limit=2.0,
    clear=2.5,
    when="below",
    on_delay=10.0,
    off_delay=10.0,
    of_picture=False,
    hushed_by=("disk-full",),
)

DISK_HOURS = AlarmRule(
    name="disk-hours",
    kind="disk",
    direction="none",
    priority=3,
    words="disk full within a day",
    advice="see what fills the disk, and make room before tomorrow",
    measured="full in {value}",
    far=1000.0,
    far_words="room for more than a month",
    unit="h",
    limit=24.0,
    clear=30.0,
    when="below",
    on_delay=10.0,
    off_delay=10.0,
    of_picture=False,
    hushed_by=("disk-full", "disk"),
)
