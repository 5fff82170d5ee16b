"""How far one picture lies from another that it should match, in stops: skin, background, highlights, ratio."""

from __future__ import annotations

from typing import Literal

from analysis.exposure.match_light import Light, Seen
from analysis.measure.examiner import known_curve
from analysis.model.hold import Apart, BackgroundBy, Difference
from analysis.model.reading import Reading
from analysis.signal.curves import Curve

NO_CURVE = "stops need the curve of both pictures"


def difference(
    live: Reading | Light, hold: Reading | Light, curve: Curve | None = None, hold_curve: Curve | None = None
) -> Difference:
    """The live picture against a hold; above zero is brighter now.

    Either may be a :class:`Light`, with the small picture that says what lies around the sitter. Curves are those of
    the readings where they are not given. Where one of the two is clipped (or crushed) and the difference can only
    be larger, it is told as at least so much; where it could be anything it is not told, and the notes say so.

    The background is read from spots of that kind where both have one, else from what lies around the
    sitters in both small pictures, else from the whole picture less the faces.
    """
    now = live if isinstance(live, Light) else Light(live, curve or known_curve(live.encoding.curve))
    then = hold if isinstance(hold, Light) else Light(hold, hold_curve or known_curve(hold.encoding.curve))
    notes: list[str] = []
    if now.curve is None or then.curve is None:
        notes.append(f"{NO_CURVE}: {'this one' if now.curve is None else 'the hold'} does not say its own")
    by, here, there = _backgrounds(now, then)
    bright = _highlights_by(now, then)
    sitter = _apart(now.skin(), then.skin(), "skin", notes)
    background = _apart(here, there, "background", notes)
    return Difference(
        sitter=sitter,
        background=background,
        highlights=_apart(now.highlights(bright), then.highlights(bright), "highlights", notes),
        middle=_apart(now.middle(), then.middle(), "middle", notes),
        ratio=_ratio(sitter, background),
        side_ratio=_sides(now, then),
        clipped=_points(now.reading, then.reading, "clipped"),
        crushed=_points(now.reading, then.reading, "crushed"),
        background_by=None if background is None else by,
        notes=tuple(notes),
    )


def _backgrounds(now: Light, then: Light) -> tuple[BackgroundBy | None, Seen | None, Seen | None]:
    """The background of both, read the same way from both."""
    ways: tuple[BackgroundBy, ...] = ("spot", "surroundings", "rest")
    for by in ways:
        here, there = getattr(now, by)(), getattr(then, by)()
        if here is not None and there is not None:
            return by, here, there
    return None, None, None


def _highlights_by(now: Light, then: Light) -> Literal["peaks", "luminance", "luma"]:
    """What the bright end of both is told by: the finest that both have; luma only says the same through one curve."""
    if now.told and then.told and now.reading.peaks and then.reading.peaks:
        return "peaks"
    same = now.curve is not None and then.curve is not None and now.curve.name == then.curve.name
    return "luma" if same else "luminance"


def _apart(now: Seen | None, then: Seen | None, what: str, notes: list[str]) -> Apart | None:
    if now is None or then is None:
        return None
    stops = now.stops - then.stops
    if not now.hidden and not then.hidden:
        return Apart(stops=stops, live=now.stops, hold=then.stops)
    # What is hidden in one of them can only be further away on its own side.
    more = (now.hidden == "above", then.hidden == "below")
    less = (now.hidden == "below", then.hidden == "above")
    if (stops >= 0.0 and not any(less)) or (stops <= 0.0 and not any(more)):
        return Apart(stops=stops, at_least=True, live=now.stops, hold=then.stops)
    lost: Literal["clipped", "crushed"] = "clipped" if "above" in (now.hidden, then.hidden) else "crushed"
    where = "in both" if now.hidden and then.hidden else "now" if now.hidden else "in the hold"
    notes.append(f"{what} {lost} {where}")
    return None


def _ratio(sitter: Apart | None, background: Apart | None) -> Apart | None:
    """How much more the sitter stands out; not told where both may be more, since either way is possible then."""
    if sitter is None or background is None:
        return None
    stops, least = sitter.stops - background.stops, False
    bounds = [each.stops * sign >= 0.0 for each, sign in ((sitter, 1.0), (background, -1.0)) if each.at_least]
    if bounds:
        least = (all(bounds) and stops >= 0.0) or (not any(bounds) and stops <= 0.0)
        if not least:
            return None
    live, hold = (_less(getattr(sitter, side), getattr(background, side)) for side in ("live", "hold"))
    return Apart(stops=stops, at_least=least, live=live, hold=hold)


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def _sides(now: Light, then: Light) -> Apart | None:
    here, there = now.main(), then.main()
    if here is None or there is None or here.ratio_stops is None or there.ratio_stops is None:
        return None
    apart = here.ratio_stops - there.ratio_stops
    return Apart(stops=apart, live=here.ratio_stops, hold=there.ratio_stops)


def _points(now: Reading, then: Reading, name: Literal["clipped", "crushed"]) -> float | None:
    here, there = getattr(now, name), getattr(then, name)
    return None if here is None or there is None else float(here.any - there.any)
