"""What the picture would be with other settings, from what was measured of the picture as it is.

ND, aperture, shutter and light change what the sensor catches; ISO multiplies what it caught. The sensor is full at
its own light, so its clip moves with the first and not with ISO; in the signal it lies higher with more ISO, until
the codes end, and lower with less. What is clipped now may hide any light: where a way would darken it below the
clip, the share that stays clipped is known only between nothing and all of it, and is said so. Less ISO alone never
uncovers what the sensor lost.
"""

from __future__ import annotations

from math import log2, sqrt

import msgspec
import numpy as np
import numpy.typing as npt

from analysis.exposure.aims import FAINTEST
from analysis.exposure.crushed import Depths, Grain
from analysis.exposure.key_power import key_light
from analysis.exposure.policy import native_of
from analysis.exposure.sensor_end import ROUNDING, counted_from, full_at
from analysis.exposure.series import exact_aperture
from analysis.exposure.settings_grid import Settings
from analysis.exposure.shares import Shares, light_stops, signals
from analysis.exposure.unblur import Unblurred, noisy_light
from analysis.model.camera import CameraProfile
from analysis.model.controls import ControlLimits, Controls
from analysis.model.reading import Reading
from analysis.model.sitter import SitterReading
from analysis.signal.curves import MIDDLE_GREY, Curve
from analysis.signal.levels import codes_per_range, percent, top_code

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

HIDDEN_LEAST = 0.02
"""Percent of the picture from which light hidden beyond the clip is worth a word."""
SKIN_CLIPPED = 1.0
"""Percent of the skin from which its true level may lie higher than it reads."""
ANCHOR = 0.5
"""Stops from the level that was counted within which that count corrects the table."""
REDDER = 0.6
"""Stops by which the red of skin lies above its luminance, in daylight; more under a warm lamp. Common practice, no
published source."""
DOUBT = 0.2
"""Percent points by which a share may be off before it is told as a range."""
READ_NOISE = 5.0
"""Electrons of read noise assumed of a camera without a profile."""
SHADOW = 10.0
"""The percentile of the picture that stands for its shadows."""


class Forecast(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The pictures of many settings; NaN where the reading does not tell. See :class:`Outlook`.

    ``clips_at`` is the light that clips, in stops of the signal as it is now: higher keeps more highlights.
    """

    camera_stops: Floats
    sitter_stops: Floats
    sitter_level: Floats
    background_stops: Floats
    clipped: Floats
    clipped_at_most: Floats
    clips_at: Floats
    hidden_by: Floats
    at_least: Flags
    skin_hidden: bool
    skin_clipped: Flags
    crushed: Floats
    crushed_at_least: Floats
    headroom: Floats
    snr_stops: Floats
    snr_lost: Floats
    closed: Floats
    longer: Floats


class Outlook:
    """The picture that was measured with known controls, ready to be asked what others would make of it."""

    def __init__(
        self,
        reading: Reading,
        controls: Controls,
        curve: Curve,
        *,
        camera: CameraProfile | None = None,
        sitter: SitterReading | None = None,
        background: float | None = None,
        limits: ControlLimits | None = None,
    ) -> None:
        """``background`` is its stops from middle grey where it is known. The reading must be a measured one."""
        assert reading.clipped is not None and reading.crushed is not None, "a reading that was not measured"
        self.reading, self.controls, self.curve, self.camera = reading, controls, curve, camera
        self.sitter, self.background = sitter, background
        self._dimmer = (limits.dimmer or None) if limits is not None else None
        bits, span = reading.encoding.bits, reading.encoding.range
        # Narrow range leaves the last codes to the interface: 254 of 8 bits, 1019 of 10 (BT.709-6, item 4.6).
        last = top_code(bits) - max(1, 2 ** (bits - 8)) if span == "narrow" else top_code(bits)
        self._last = light_stops(percent(last, bits, span), curve)
        self._count_at = light_stops(reading.clipped.level, curve)
        # A ceiling that was found, and a profile's level, are where the signal ends: nothing is full before them.
        self._told_end = reading.clipped.by in {"ceiling", "profile"}
        self._full = self._sensor_full()
        self._code = code = 100.0 / codes_per_range(bits, span)
        self._edge = min(self._last, self._full)
        self._visible = light_stops(counted_from(self._edge, curve, code), curve)
        self._peaks = Shares(reading.peaks or reading.spread)
        self._luma = Shares(reading.spread)
        bottom = reading.floor.level if reading.floor is not None else reading.crushed.level
        self._dark = float(curve.decode(np.array((bottom + code / 2.0) / 100.0)))
        grain = self._grain()
        self._depths = Depths(reading.depths or reading.spread, self._dark, reading.crushed.any, grain)
        self._unblurred = Unblurred(reading.peaks or None, self._grain(where_measured=True))

    def over(self, settings: Settings, key_factor: Floats | float = 1.0) -> Forecast:
        """The pictures of these settings, with the key ``key_factor`` times as strong as it is now."""
        now = self.controls
        closed, longer = self._looks(settings)
        caught = now.nd_stops - settings.nd - closed + longer
        gain = np.log2(settings.iso / now.iso)
        whole = caught + gain
        keyed = np.log2(np.maximum(1.0 - now.key_share + now.key_share * key_factor, FAINTEST))
        skin = whole + keyed
        unknown = np.full(settings.count, np.nan)

        ends = self.ends(settings.iso)
        known, most, beyond = self._clipped(ends - whole, caught)
        dimmed = np.asarray(keyed) < -1e-6
        if dimmed.any():  # nobody knows how much of what clips is lit by the key
            # Where the cheek is lit by the key in part, other places may be lit by nothing else.
            alone = np.log2(np.clip(key_factor, FAINTEST, 1.0))
            known = np.where(dimmed, np.minimum(known, self._clipped(ends - whole - alone, caught)[0]), known)
        # Nobody knows where an unknown sensor is full: less ISO may keep no more light than is kept now.
        kept = ends + self._unsure(settings.iso)
        most = np.maximum(most, self._clipped(kept - whole, caught)[1])
        hidden = (beyond & (most > HIDDEN_LEAST)) | (most > known + HIDDEN_LEAST)
        stops, level, too_bright, skin_hidden = self._skin(skin, ends)
        most = self._with_face(most, keyed, too_bright)
        lit = np.abs(np.asarray(keyed)) > 1e-6
        if lit.any():  # nothing can gain more than the key itself: where even that does not clip, nothing is in doubt
            gained = np.log2(np.maximum(key_factor, 1.0))
            lit = lit & (np.maximum(most, self._clipped(kept - whole - gained, caught)[1]) > HIDDEN_LEAST)
        snr, lost = self._noise(caught, settings.iso)
        crushed_least, crushed = self._depths.over(caught, gain)
        return Forecast(
            camera_stops=whole,
            sitter_stops=stops,
            sitter_level=level,
            background_stops=unknown if self.background is None else self.background + whole,
            clipped=known,
            clipped_at_most=most,
            clips_at=kept - whole,
            hidden_by=np.maximum(ends - whole - self._visible, 0.0),
            at_least=hidden | skin_hidden | lit,
            skin_hidden=bool(skin_hidden.any()),
            skin_clipped=too_bright,
            crushed=crushed,
            crushed_at_least=crushed_least,
            headroom=self._headroom(kept - whole, np.asarray(keyed)),
            snr_stops=snr,
            snr_lost=lost,
            closed=closed,
            longer=longer,
        )

    def _looks(self, settings: Settings) -> tuple[Floats, Floats]:
        """Stops by which the lens is closed and the shutter open for longer."""
        now = self.controls
        lens = exact_aperture(now.t_stop) if now.t_stop is not None else np.nan
        closed = np.nan_to_num(2.0 * np.log2(settings.t_stop / lens)) if now.t_stop else np.zeros(settings.count)
        return closed, np.log2(settings.angle / now.shutter_angle)

    def camera_stops(self, settings: Settings) -> Floats:
        """Stops by which these settings of the camera lift the signal, the key left as it is."""
        closed, longer = self._looks(settings)
        return np.asarray(
            self.controls.nd_stops - settings.nd - closed + longer + np.log2(settings.iso / self.controls.iso)
        )

    @property
    def clips_at(self) -> float:
        """The light that clips as things are set, in stops of the signal."""
        return float(self.ends(np.array([self.controls.iso]))[0])

    def key_factor(self, percent_: float | None, distance: float | None) -> float:
        """How many times as strong the key is at another power and distance."""
        now, factor = self.controls, 1.0
        if percent_ is not None and now.key_percent is not None:
            factor *= key_light(percent_, self._dimmer) / max(key_light(now.key_percent, self._dimmer), FAINTEST)
        if distance is not None and now.key_distance is not None:
            factor *= (now.key_distance / distance) ** 2
        return factor

    def _sensor_full(self) -> float:
        """Stops in the signal at which the sensor is full now; infinite where nobody knows."""
        ceiling, profile = self.reading.ceiling, self._profile_full(np.array([self.controls.iso]))
        if ceiling is not None and light_stops(ceiling.level + ROUNDING, self.curve) < self._last:
            return light_stops(ceiling.level, self.curve)
        return float(profile[0])

    def _profile_full(self, iso: Floats) -> Floats:
        natives = self.camera.natives if self.camera is not None else ()
        if not natives:
            return np.full(iso.shape, np.inf)
        by_iso = {each.iso: each for each in natives}
        found = [full_at(by_iso[native_of(float(each), tuple(by_iso))], float(each)) for each in iso.ravel()]
        return np.array(found).reshape(iso.shape)

    def ends(self, iso: Floats) -> Floats:
        """Stops in the signal from which light counts as clipped at each ISO."""
        every, back = np.unique(iso, return_inverse=True)
        if self.camera is not None and self.camera.natives:
            rise = self._profile_full(every) - self._profile_full(np.array([self.controls.iso]))
        else:
            # Without a profile the sensor's end is taken to rise and fall with ISO, as the light it caught does.
            rise = np.log2(every / self.controls.iso)
        assert self.reading.clipped is not None
        if self._told_end:
            # Counting begins a little below the level at which the signal stops; both move together.
            ends = np.minimum(self._count_at + rise, light_stops(100.0, self.curve))
        else:
            full = self._full + rise
            seen = np.minimum(full, self._last) - (self._edge - self._visible)
            ends = np.minimum(self._count_at, np.where(full < self._last, seen, np.inf))
        return np.asarray(ends[back])

    def _unsure(self, iso: Floats) -> Floats:
        """Stops by which the end may lie lower than is known, below zero: with less ISO, where no sensor is known."""
        assert self.reading.clipped is not None
        known = (self.camera is not None and self.camera.natives) or self._told_end
        if known or self.reading.ceiling is not None:
            return np.zeros(iso.shape)
        return np.asarray(np.minimum(np.log2(iso / self.controls.iso), 0.0))

    def _clipped(self, threshold: Floats, caught: Floats) -> tuple[Floats, Floats, Flags]:
        """Known and greatest clipped share where light from ``threshold`` (stops in the signal now) clips.

        ``caught`` are the stops by which the sensor catches more.
        """
        assert self.reading.clipped is not None
        there, now = self._count_at, self.reading.clipped.any
        measured = float(self._peaks.above(there))
        if there > self._edge and not self._told_end:  # the sensor is full before the level that was counted from
            there = self._visible
            now = measured = float(self._peaks.above(there))
        share = self._peaks.above(threshold)
        # The share that was counted on every pixel stands; further off the table knows better.
        near = np.maximum(1.0 - np.abs(threshold - there) / ANCHOR, 0.0)
        scale = np.where(threshold > there, share / measured if measured > 0.0 else 0.0, 1.0)
        sharper = self._unblurred.change(threshold, caught)
        tied = np.clip(share + sharper + (now - measured) * near * scale, 0.0, 100.0)
        beyond = threshold > max(self._visible, there) + 0.02
        hidden = self._peaks.above(self._visible - self._peaks.step)
        most = np.where(beyond, np.maximum(tied, hidden), tied)
        doubt = (1.0 - near) * self._unblurred.doubt(threshold, caught, self._code_stops(threshold))
        doubt = np.where(beyond | (doubt <= DOUBT), 0.0, doubt)
        known = np.where(beyond, 0.0, np.maximum(tied - doubt, 0.0))
        return known, np.minimum(most + doubt, 100.0), beyond

    def _code_stops(self, stops: Floats) -> Floats:
        """How many stops of light one step of the code spans, at light in stops."""
        half = 0.01
        rise = (signals(stops + half, self.curve) - signals(stops - half, self.curve)) / (2.0 * half)
        return np.asarray(self._code / 100.0 / np.maximum(rise, 1e-9))

    def _skin(self, change: Floats, ends: Floats) -> tuple[Floats, Floats, Flags, Flags]:
        sitter = self.sitter
        nothing = np.full(change.shape, np.nan)
        if sitter is None or sitter.stops is None or sitter.level is None:
            never = np.zeros(change.shape, bool)
            return nothing, nothing, never, never
        at = light_stops(sitter.level, self.curve)
        top = 100.0 * signals(ends, self.curve)
        level = np.minimum(100.0 * signals(at + change, self.curve), np.maximum(top, sitter.level))
        level = np.where(np.abs(change) < 1e-9, sitter.level, level)
        high = light_stops(sitter.high, self.curve) if sitter.high is not None else at
        was = bool((sitter.clipped or 0.0) >= SKIN_CLIPPED)
        return (
            np.minimum(sitter.stops + change, np.maximum(ends, sitter.stops)),
            level,
            (high + change >= ends) & ~np.array(was),
            np.full(change.shape, was),
        )

    def _with_face(self, most: Floats, keyed: Floats, bright: Flags) -> Floats:
        """The greatest clipped share with the face's brightest twentieth where the key alone lifts it to the clip."""
        sitter = self.sitter
        if sitter is None or not np.any(np.asarray(keyed) > 1e-6):
            return most
        size = self.reading.picture.active
        part = 100.0 * sitter.box[2] * sitter.box[3] / max(1, size[2] * size[3])
        more = np.where(bright & (np.asarray(keyed) > 1e-6), 0.05 * part, 0.0)
        return np.asarray(np.minimum(most + more, 100.0))

    def _grain(self, where_measured: bool = False) -> Grain | None:
        """The noise of the picture as it is, None where it was not measured.

        It stands for the darkest tenth; ``where_measured`` looks up the light that had it, if the curve tells.
        """
        now = self.reading.noise.shadow_snr_stops if self.reading.noise is not None else None
        shadow = self._luma.percentile(SHADOW)
        if now is None or shadow is None:
            return None
        noise, light = self.reading.noise, MIDDLE_GREY * 2.0**shadow
        if where_measured and noise is not None and noise.ire is not None:
            light = noisy_light(2.0**now, noise.ire, self.curve) or light
        return Grain.of(light, 2.0**now, _electrons(now), READ_NOISE)

    def _headroom(self, threshold: Floats, keyed: Floats) -> Floats:
        now, sitter = self.reading.headroom_stops, self.sitter
        if now is None:
            return np.full(threshold.shape, np.nan)
        end = self._full if self.reading.ceiling is not None else self._count_at
        if now <= 0.02:  # the brightest light is hidden
            return np.zeros(threshold.shape)
        left = now + threshold - end
        high = sitter.high if sitter is not None and sitter.high is not None else None
        if high is not None and np.any(keyed > 1e-6):
            lifted = threshold - keyed - light_stops(high, self.curve) - REDDER
            left = np.where(keyed > 1e-6, np.minimum(left, lifted), left)
        return np.asarray(np.maximum(left, 0.0))

    def _noise(self, caught: Floats, iso: Floats) -> tuple[Floats, Floats]:
        """Signal-to-noise in the shadows in stops, and what of it is lost, both by what the sensor catches."""
        now = self.reading.noise.shadow_snr_stops if self.reading.noise is not None else None
        shadow = self._luma.percentile(SHADOW)
        native = self.camera.natives[0].iso if self.camera is not None and self.camera.natives else None
        table = self.camera.response if self.camera is not None else None
        if table is not None and native is not None and len(table.snr) == len(table.stops) >= 2 and shadow is not None:
            on_sensor = shadow - log2(self.controls.iso / native)
            snr = np.log2(np.maximum(table.snr, 1e-3))
            at = np.interp([on_sensor], table.stops, snr)
            lost = at - np.interp(on_sensor + caught, table.stops, snr)
        else:
            lost = -caught / 2.0 if now is None else now - _snr_after(now, caught)
        return (np.full(caught.shape, np.nan) if now is None else now - lost), np.asarray(lost)


def _snr_after(now: float, caught: Floats) -> Floats:
    """Signal-to-noise in stops after a change of light: photons and read noise together (EMVA 1288 R4.0)."""
    after = _electrons(now) * 2.0**caught
    return np.asarray(np.log2(after / np.sqrt(after + READ_NOISE**2)))


def _electrons(snr: float) -> float:
    """How many electrons give this signal-to-noise in stops, with the read noise that is assumed."""
    ratio: float = 2.0 ** (2.0 * snr)
    return (ratio + sqrt(ratio * ratio + 4.0 * ratio * READ_NOISE**2)) / 2.0
