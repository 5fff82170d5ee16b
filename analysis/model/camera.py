"""A camera as it was measured: what it holds above and below middle grey, and how it writes that."""

from __future__ import annotations

import msgspec

from analysis.model.frame import Matrix, Range


class NativeIso(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the camera holds at one of its own sensitivities, in stops from an 18 % card.

    ``stops_above`` reaches to where the signal stops rising, ``stops_below`` to where the signal-to-noise
    ratio of the profile is left (a positive number). ``…_at_least`` marks an end that the bracket did
    not reach.
    """

    iso: float
    stops_above: float
    stops_below: float
    above_at_least: bool = False
    below_at_least: bool = False

    @property
    def usable_stops(self) -> float:
        """Stops from the lowest usable light to the clip.

        >>> NativeIso(iso=800, stops_above=6.0, stops_below=7.5).usable_stops
        13.5
        """
        return self.stops_above + self.stops_below


class Response(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The curve as measured: stops from middle grey, level in IRE, temporal noise in IRE; lists of one length.

    ``snr`` is the signal-to-noise ratio at each, as a factor, by the slope of the curve (ISO 15739).
    """

    stops: tuple[float, ...] = ()
    percent: tuple[float, ...] = ()
    noise_percent: tuple[float, ...] = ()
    snr: tuple[float, ...] = ()


class CameraProfile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Everything the watch and the planner want to know of a camera.

    ``snr`` is the signal-to-noise ratio that counts as usable. ``clip_percent`` is the level in IRE at
    which the signal stops rising, None when the bracket never reached it. ``noise_percent`` is the
    temporal noise in IRE at the darkest step that was measured. ``curve`` is the known curve that lies
    nearest, ``curve_within`` by how many stops at most, ``curve_offset`` how many stops above it the
    camera was exposed. ``iso_steps`` are the ISO values that can be set, ``nd_steps`` the filters in
    stops, ``nd_range`` the least and the most of a variable one. ``measured`` is a date, as text.
    """

    name: str
    snr: float
    natives: tuple[NativeIso, ...] = ()
    bits: int
    range: Range
    matrix: Matrix
    clip_percent: float | None = None
    noise_percent: float | None = None
    curve: str | None = None
    curve_within: float | None = None
    curve_offset: float | None = None
    response: Response = Response()
    iso_steps: tuple[float, ...] = ()
    nd_steps: tuple[float, ...] = ()
    nd_range: tuple[float, float] | None = None
    measured: str | None = None

    def with_kept(self, older: CameraProfile) -> CameraProfile:
        """This profile with what only the operator knows from an older one, and its figures at other ISO values.

        >>> old = CameraProfile(name="porch", snr=2.0, bits=8, range="narrow", matrix="bt709", nd_steps=(2.0, 4.0))
        >>> CameraProfile(name="porch", snr=1.0, bits=8, range="narrow", matrix="bt709").with_kept(old).nd_steps
        (2.0, 4.0)
        """
        own = {native.iso for native in self.natives}
        others = tuple(native for native in older.natives if native.iso not in own) if older.snr == self.snr else ()
        return msgspec.structs.replace(
            self,
            natives=tuple(sorted((*self.natives, *others), key=lambda native: native.iso)),
            iso_steps=self.iso_steps or older.iso_steps,
            nd_steps=self.nd_steps or older.nd_steps,
            nd_range=self.nd_range or older.nd_range,
        )
