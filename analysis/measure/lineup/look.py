"""The line-up of one picture."""

from __future__ import annotations

from analysis.measure.lineup.cells import Cells, Picture
from analysis.measure.lineup.fit import Feed
from analysis.measure.lineup.grey_verdict import grey_verdict, unexplained
from analysis.measure.lineup.greys import find_greys
from analysis.measure.lineup.hypotheses import Hypothesis
from analysis.measure.lineup.judge import verdict
from analysis.measure.lineup.layout import recognise
from analysis.measure.lineup.result import NOTHING, Lineup
from analysis.measure.lineup.search import find
from analysis.model.frame import Frame, Matrix


def look(frame: Frame) -> Lineup:
    """Which line-up pattern a frame shows, and whether the chain is true.

    A frame marked corrupt, and a picture too small to hold bars, show nothing. Raises FeedUnreadable or
    FeedCorrupt when the planes are not what the format says.
    """
    if frame.corrupt:
        return NOTHING
    picture = Picture(frame)
    cells = picture.cells()
    if cells is None:
        return NOTHING
    return _bars(picture, cells) or _greys(picture, cells) or NOTHING


def _greys(picture: Picture, cells: Cells) -> Lineup | None:
    """The first grey scale that something known explains; failing that, the first that is one without doubt."""
    scales = list(find_greys(picture, cells))
    for greys in scales:
        found = grey_verdict(picture, greys)
        if found is not None:
            return found
    return next((unexplained(picture, greys) for greys in scales if greys.sure), None)


def _bars(picture: Picture, cells: Cells) -> Lineup | None:
    encoding = picture.encoding
    how = picture.how
    # Luma alone of a feed that says "rgb" was most likely made with the weights of BT.709.
    matrix: Matrix = "bt709" if how.is_grey and encoding.matrix == "rgb" else encoding.matrix
    declared = Hypothesis(written=encoding.range, matrix=matrix)
    feed = Feed(rgb=how.is_rgb, grey=how.is_grey, bits=picture.bits, declared=declared)
    for bars in find(picture, cells):
        standard = recognise(picture, bars, feed)
        if standard is not None:
            found = verdict(picture, feed, standard)
            if found is not None:
                return found
    return None
