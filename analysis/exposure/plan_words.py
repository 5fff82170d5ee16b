"""Plans in words: what to move, why, what is missing, and what to mind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import log2

from analysis.exposure.aims import third_words, thirds
from analysis.exposure.arithmetic import distance_stops
from analysis.exposure.key_power import key_light
from analysis.exposure.policy import EVEN_LIGHT, OPEN_SKY, Policy
from analysis.exposure.series import aperture_stops, density_name, exact_aperture, speed_name
from analysis.model.controls import Controls
from analysis.model.plan import Costs, Predicted

LAMPS = (
    "Lamps are hot, heavy and on mains: follow the fixture's manual and local electrical rules, secure stands and "
    "cables, and leave wiring to licensed people."
)
SUN = "Never aim at the sun without proper filtration, neither eye nor sensor."
WORTH = 0.1
"""Stops and percent below which a cost is not worth a word."""
NEXT_STEP = ", and the next step "
CLIPS = ", and more would clip the highlights: more light on the sitter alone"
"""What a sentence about a missing way goes on with, also where no control is named."""
DARK_KEY = 1e-4
"""Part of full light below which a key is as good as off: stops between it and any other power mean nothing."""


def moves(now: Controls, to: Controls, policy: Policy, dimmer: Sequence[tuple[float, float]] = ()) -> tuple[str, ...]:
    """What to move, in the order to do it; staying is told as well.

    >>> from analysis.exposure.policy import Policy
    >>> any_ = Policy(name="x", title="", why="")
    >>> moves(Controls(nd_stops=6, iso=800), Controls(nd_stops=8, iso=2000), any_)
    ('ND from 6 to 8 stops (density 2.4, 2 stops more)', 'ISO from 800 to 2000 (1 1/3 stops up)')
    >>> moves(Controls(), Controls(), any_)
    ('stay as you are',)
    """
    told = []
    if to.nd_stops != now.nd_stops:
        amount = to.nd_stops - now.nd_stops
        told.append(
            f"ND from {_plain(now.nd_stops)} to {_plain(to.nd_stops)} stops "
            f"(density {density_name(to.nd_stops):g}, {_by(amount, 'more', 'less')})"
        )
    if to.t_stop != now.t_stop and to.t_stop is not None and now.t_stop is not None:
        amount = aperture_stops(exact_aperture(now.t_stop), exact_aperture(to.t_stop))
        told.append(f"aperture from T{now.t_stop:g} to T{to.t_stop:g} ({_by(amount, 'closed', 'opened')})")
    if to.shutter_angle != now.shutter_angle:
        amount = log2(to.shutter_angle / now.shutter_angle)
        told.append(
            f"shutter from {now.shutter_angle:g} to {to.shutter_angle:g} degrees "
            f"({speed_name(to.seconds)} s, {_by(amount, 'longer', 'shorter')})"
        )
    if to.iso != now.iso:
        told.append(f"ISO from {now.iso:g} to {to.iso:g} ({_by(log2(to.iso / now.iso), 'up', 'down')})")
    key = _key_moves(now, to, dimmer)
    if key and policy.background_first and told:
        told[0] = f"first the background: {told[0]}"
        key[0] = f"then {key[0]}"
    return tuple(told + key) or ("stay as you are",)


def _key_moves(now: Controls, to: Controls, dimmer: Sequence[tuple[float, float]]) -> list[str]:
    told = []
    if now.key_distance is not None and to.key_distance is not None and to.key_distance != now.key_distance:
        amount = distance_stops(now.key_distance, to.key_distance)
        told.append(f"the key from {now.key_distance:g} to {to.key_distance:g} away ({_by(amount, 'more', 'less')})")
    if now.key_percent is not None and to.key_percent is not None and to.key_percent != now.key_percent:
        before, after = (key_light(each, dimmer or None) for each in (now.key_percent, to.key_percent))
        lit = min(before, after) > DARK_KEY
        moved = f" ({_by(log2(after / before), 'up', 'down')})" if lit else ""
        told.append(f"the key from {now.key_percent:g} to {to.key_percent:g} %{moved}")
    return told


def reason(
    now: Controls,
    to: Controls,
    predicted: Predicted,
    costs: Costs,
    policy: Policy,
    keeps: bool = False,
    who: str = "the sitter",
) -> str:
    """One sentence: what this way gives ``who`` and what it costs; ``keeps`` says that more bright light is kept."""
    count = thirds(costs.off_aim_stops)
    side = "over" if costs.off_aim_stops > 0 else "under"
    gives = f"puts {who} on the aim" if count == 0 else f"leaves {who} {third_words(count)} {side}"
    if to == now:
        gives = f"{who} lies where it should" if count == 0 else f"{who} lies {third_words(count)} {side}"
    if predicted.sitter_at_least:
        gives = f"{gives} or higher, since the skin is clipped now: look again when it is done"
    told = [gives]
    if keeps and to.nd_stops > now.nd_stops:
        told.append("the sensor catches less, so more highlights are kept")
    if costs.below_native_stops > WORTH:
        lower = f"ISO {third_words(thirds(costs.below_native_stops))} below native"
        if policy.name == EVEN_LIGHT and costs.noise_stops <= WORTH:
            lower = "less noise, and nothing bright to lose"
        elif costs.clip_lowered_stops > WORTH:
            lower = f"{lower} lowers the clip"
        told.append(lower)
    if costs.noise_stops > WORTH:
        told.append(f"costs {_stops(costs.noise_stops)} of signal-to-noise in the shadows")
    if costs.lifted_stops > WORTH and costs.noise_stops <= WORTH:
        told.append(f"ISO lifts the noise {_stops(costs.lifted_stops)} with the picture")
    if abs(costs.depth_of_field_stops) > WORTH:
        told.append("deeper focus" if costs.depth_of_field_stops > 0 else "shallower focus")
    if abs(costs.motion_stops) > WORTH:
        told.append("more motion blur" if costs.motion_stops > 0 else "crisper motion")
    told.append(_clipped_words(predicted, doubt(now, to, costs)))
    sentence = "; ".join(told)
    return f"{sentence[0].upper()}{sentence[1:]}."


def doubt(now: Controls, to: Controls, costs: Costs) -> str:
    """Why a clipped share is known only between two figures, if it is.

    >>> costs = Costs(off_aim_stops=0, clipped=0, noise_stops=0, depth_of_field_stops=0, motion_stops=0,
    ...     below_native_stops=0, total=0, headroom_stops=3.0)
    >>> doubt(Controls(nd_stops=6), Controls(nd_stops=3), costs)
    'the dark picture is too coarse to tell'
    """
    if to.key_percent != now.key_percent or to.key_distance != now.key_distance:
        return "how much of the bright light is the key's is not known"
    if costs.headroom_stops > 0.0:
        return "the dark picture is too coarse to tell"
    return "what is lost now hides how bright it is"


def _clipped_words(predicted: Predicted, why: str = "") -> str:
    """The clipped share at the end of a sentence; a trace of it is told as less than a tenth.

    >>> seen = Predicted(sitter_level=50, sitter_stops=0.5, clipped=0.0, clipped_at_most=0.0, at_least=False, crushed=0,
    ...     headroom_stops=1, shadow_snr_stops=3)
    >>> import msgspec
    >>> _clipped_words(seen), _clipped_words(msgspec.structs.replace(seen, clipped=0.004, clipped_at_most=0.004))
    ('nothing clipped', 'less than 0.1 % clipped')
    >>> _clipped_words(msgspec.structs.replace(seen, clipped_at_most=3.0, at_least=True), "what is lost now hides it")
    '0.0 to 3.0 % clipped: what is lost now hides it'
    """
    if predicted.clipped_at_most > predicted.clipped + 0.05:
        share = f"{predicted.clipped:.1f} to {predicted.clipped_at_most:.1f} % clipped"
        return f"{share}: {why}"
    if not predicted.at_least and predicted.clipped < 0.05:
        return "less than 0.1 % clipped" if predicted.clipped > 0.0 else "nothing clipped"
    least = "at least " if predicted.at_least else ""
    return f"{least}{predicted.clipped:.1f} % clipped"


def costs_in_words(costs: Costs, ranged: bool = False) -> str:
    """What a way costs, only what changes; ``nothing`` where it is for free. See :func:`gains_in_words`.

    ``ranged`` says that the clipped share is known only between two figures: the cost is of the greater one.

    >>> none = Costs(off_aim_stops=0, clipped=0, noise_stops=0, depth_of_field_stops=0, motion_stops=0,
    ...     below_native_stops=0, total=0)
    >>> costs_in_words(none)
    'nothing'
    >>> import msgspec
    >>> costs_in_words(msgspec.structs.replace(none, lifted_stops=1.0, headroom_stops=0.3))
    'noise lifted 1.0 stop with the picture, light clips 0.3 stops sooner'
    """
    told = []
    if costs.noise_stops >= WORTH:
        told.append(f"{_stops(costs.noise_stops)} more noise in the shadows")
    if costs.lifted_stops >= WORTH:
        told.append(f"noise lifted {_stops(costs.lifted_stops)} with the picture")
    if costs.clip_lowered_stops >= WORTH:
        told.append(f"the signal clips {_stops(costs.clip_lowered_stops)} lower")
    if costs.clipped >= WORTH / 2.0:
        told.append(f"{'up to ' if ranged else ''}{costs.clipped:.2f} % more clipped")
    if costs.headroom_stops >= WORTH:
        told.append(f"light clips {_stops(costs.headroom_stops)} sooner")
    focus, motion, ratio = costs.depth_of_field_stops, costs.motion_stops, costs.ratio_stops
    if abs(focus) >= WORTH:
        told.append(f"focus {'deeper' if focus > 0 else 'shallower'} by {_stops(focus)} of aperture")
    if abs(motion) >= WORTH:
        told.append(f"motion {'softer' if motion > 0 else 'crisper'} by {_stops(motion)} of time")
    if abs(ratio) >= WORTH:
        told.append(f"the sitter {_stops(ratio)} {'brighter' if ratio > 0 else 'darker'} against the background")
    return ", ".join(told) or "nothing"


def gains_in_words(costs: Costs, ranged: bool = False) -> str:
    """What a way gains, empty where nothing; ``ranged`` as in :func:`costs_in_words`.

    >>> gains_in_words(Costs(off_aim_stops=0, clipped=-1.5, noise_stops=-0.4, depth_of_field_stops=0, motion_stops=0,
    ...     below_native_stops=0, total=0, headroom_stops=-2.0))
    '0.4 stops less noise in the shadows, 1.50 % less clipped, light clips 2.0 stops later'
    """
    told = []
    if costs.noise_stops <= -WORTH:
        told.append(f"{_stops(costs.noise_stops)} less noise in the shadows")
    if costs.clipped <= -WORTH / 2.0:
        told.append(f"{'at least ' if ranged else ''}{-costs.clipped:.2f} % less clipped")
    if costs.headroom_stops <= -WORTH:
        told.append(f"light clips {_stops(costs.headroom_stops)} later")
    return ", ".join(told)


def _stops(amount: float) -> str:
    """An amount without its sign, to a tenth.

    >>> _stops(-1.0), _stops(0.33)
    ('1.0 stop', '0.3 stops')
    """
    text = f"{abs(amount):.1f}"
    return f"{text} stop{'' if text == '1.0' else 's'}"


def short(
    off: float,
    to: Controls,
    isos: Sequence[float],
    free: Mapping[str, bool],
    clips: bool,
    beyond: float | None = None,
) -> str:
    """What is missing where the nearest way stays ``off`` stops from the aim, and the next one ``beyond`` it.

    >>> short(-1.3, Controls(nd_stops=0, iso=3200), (800, 3200), {"nd": True, "iso": True}, False)
    '1 1/3 stops short even at ISO 3200: more light'
    >>> short(0.7, Controls(nd_stops=8, iso=400), (400, 800), {"nd": True, "iso": True}, False)
    '2/3 stop over even at ND 8 and ISO 400: more ND, or less light'
    >>> short(0.7, Controls(nd_stops=6, iso=800), (800,), {"nd": True, "iso": False}, False, -1.3)
    '2/3 stop over at ND 6 and ISO 800, and the next step 1 1/3 stops under: finer steps, or another control'
    """
    size = third_words(thirds(off)) if thirds(off) else "less than 1/3 stop"
    key = f" and the key at {to.key_percent:g} %" if to.key_percent is not None and free.get("key") else ""
    if beyond is not None and not clips:
        by = third_words(thirds(beyond)) if thirds(beyond) else "less than 1/3 stop"
        step = f"{NEXT_STEP}{by} {'over' if beyond > 0.0 else 'under'}: finer steps, or another control"
        return f"{size} {'short' if off < 0.0 else 'over'} at ND {_plain(to.nd_stops)} and ISO {to.iso:g}{key}{step}"
    if off < 0.0:
        at = (
            f"ISO {to.iso:g}" if to.iso == max(isos) or not free["iso"] else f"ND {_plain(to.nd_stops)}, ISO {to.iso:g}"
        )
        if clips:
            return f"{size} short at {at}{CLIPS}"
        return f"{size} short even at {at}{key}: more light"
    return f"{size} over even at ND {_plain(to.nd_stops)} and ISO {to.iso:g}{key}: more ND, or less light"


def cautions(
    now: Controls, ways: Iterable[Controls], policy: Policy, missing: str | None = None, *, sky: bool = False
) -> tuple[str, ...]:
    """What to mind beside advice that raises a lamp, or opens the camera where the sky is in the picture.

    ``sky`` says that the picture has light in it such as a sky's, whatever policy is followed.
    """
    raised = opened = False
    for to in ways:
        raised |= (to.key_percent or 0.0) > (now.key_percent or 0.0)
        raised |= to.key_distance != now.key_distance
        opened |= to.nd_stops < now.nd_stops
        opened |= to.t_stop is not None and now.t_stop is not None and to.t_stop < now.t_stop
    lamps = raised or (missing is not None and "more light" in missing)
    sun = opened and (sky or policy.name == OPEN_SKY)
    return (*((LAMPS,) if lamps else ()), *((SUN,) if sun else ()))


def _by(amount: float, more: str, less: str) -> str:
    size = third_words(thirds(amount)) if thirds(amount) else "a little"
    return f"{size} {more if amount > 0 else less}"


def _plain(stops: float) -> str:
    """Stops to two decimals, without trailing zeros.

    >>> _plain(6.0), _plain(3.3333)
    ('6', '3.33')
    """
    return f"{stops:.2f}".rstrip("0").rstrip(".")
