"""What a watch keeps beside measuring and alarms: one desk for each concern, all used in the watch's own thread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import msgspec

from analysis.engine.aiming import AimDesk
from analysis.engine.anew import ExposedAnew
from analysis.engine.drifting import DriftWatch
from analysis.engine.lining_up import LineupDesk
from analysis.engine.listeners import Archive, TurnListener
from analysis.engine.matching import MatchDesk
from analysis.engine.nearing import ClipWatch
from analysis.engine.planning import PlanDesk
from analysis.engine.turns import TurnDesk
from analysis.lookout.desk import SitterDesk
from analysis.measure.examiner import known_curve
from analysis.model.feed import FeedStatus
from analysis.model.hold import Hold
from analysis.model.instant import Instant
from analysis.model.reading import Measurement, Reading, View
from analysis.model.sitter import Spot
from analysis.model.turn import Turn

USABLE = frozenset({"good", "late"})


@dataclass
class Desks:
    """The desks of one watch; ``sitters`` is None where faces are not looked for.

    ``archive`` keeps holds and controls beyond the session, None where nothing is kept; ``listeners`` hear of turns.
    """

    sitters: SitterDesk | None = None
    aims: AimDesk = field(default_factory=AimDesk)
    lineup: LineupDesk = field(default_factory=LineupDesk)
    plans: PlanDesk = field(default_factory=lambda: PlanDesk(policies={}))
    holds: MatchDesk = field(default_factory=MatchDesk)
    drift: DriftWatch = field(default_factory=DriftWatch)
    turns: TurnDesk = field(default_factory=TurnDesk)
    clip: ClipWatch = field(default_factory=ClipWatch)
    anew: ExposedAnew = field(default_factory=ExposedAnew)
    archive: Archive | None = None
    listeners: tuple[TurnListener, ...] = ()

    def see(
        self, measurement: Measurement, spots: tuple[Spot, ...], feed: FeedStatus, now: Instant
    ) -> Mapping[str, float]:
        """Plan, compare and look for turns in what was just measured.

        Gives values for alarms that no reading holds by itself.
        """
        reading, view = measurement.reading, measurement.view
        if reading.validity == "good":
            light = measurement.light
            if light is not None:
                light = self.plans.to_sensor_end(measurement).light
            turns = self.turns.see(light, reading, now, spots)
            self.anew.saw(turns, now)
            if light is not None:
                self.clip.nearing(turns, self.turns.heading, now)
            for turn in turns:
                self._learn_share(turn)
                for listener in self.listeners:
                    listener.turned(turn)
        if reading.validity in USABLE:
            curve = known_curve(reading.encoding.curve)
            aims = self.aims.in_force(reading.encoding.curve)
            rate = feed.format.rate if feed.format is not None else None
            self.plans.look(reading, curve, aims, now, spots=spots, rate=rate)
        else:
            self.plans.doubt(now)
        planning = self.plans.planning
        self.holds.look(
            reading,
            view,
            now,
            controls=self.plans.controls,
            limits=planning.limits,
            camera=planning.profile,
            planning_wanted=self.plans.asked,
        )
        return {**self.aims.values(reading), **self._drift(now)}

    def forget(self) -> None:
        """The picture is gone: nothing that was made of it holds any longer."""
        self.plans.forget()
        self.holds.forget()
        self.turns.forget()
        self.clip.forget()

    def keep_hold(self, name: str | None, reading: Reading | None, view: View | None, feed: str, now: Instant) -> Hold:
        """Keep the newest reading and match against it. Raises StopkeeperError where there is nothing to keep."""
        hold = self.holds.keep(name, reading, view, feed, now, self.plans.controls)
        self.drift.kept(hold.name)
        if self.archive is not None:
            self.archive.hold_kept(hold)
        return hold

    def drop_hold(self, name: str) -> None:
        """Forget a hold for good. Raises StopkeeperError for one that there is not."""
        gone = self.holds.drop(name)
        if self.archive is not None:
            self.archive.hold_dropped(gone)

    def keep_controls(self) -> None:
        """What is set was changed: keep it."""
        if self.archive is not None:
            self.archive.controls_changed(self.plans.file)

    def _learn_share(self, turn: Turn) -> None:
        """A key that was just switched on shows which part of the light is its own, better than anybody can say it."""
        controls, effect = self.plans.controls, turn.effect
        if controls is None or controls.key_percent is None or effect is None or effect.at_least or turn.stops <= 0.0:
            return
        share = round(min(max(effect.key_share, 0.01), 1.0), 2)
        if share != controls.key_share:
            self.plans.set_controls(msgspec.structs.replace(controls, key_share=share))
            self.keep_controls()

    def _drift(self, now: Instant) -> Mapping[str, float]:
        hold = self.holds.matching.hold
        return self.drift.values(None if hold is None else hold.name, self.holds.drift_stops(), now)
