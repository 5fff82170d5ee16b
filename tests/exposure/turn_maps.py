"""Maps of light made up for tests: a room with structure, and what is done to its light."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.exposure.turn import TurnState, begin, step
from analysis.model.instant import Instant
from analysis.model.light import COLUMNS, ROWS, LightMap, SeenSitter
from analysis.model.turn import Turn

FACE = (0.5, 0.25, 0.12, 0.25)
SITTER = (SeenSitter(box=FACE),)
AREA = (0, 0, 1920, 1080)


def room(seed: int = 1) -> np.ndarray:
    """Stops of a room: large soft shapes with texture, from about -4 to +2."""
    dice = np.random.default_rng(seed)
    coarse = cv2.resize(
        dice.uniform(-4.0, 2.0, (6, 9)).astype(np.float32), (COLUMNS, ROWS), interpolation=cv2.INTER_CUBIC
    )
    return np.asarray(coarse + dice.normal(0.0, 0.35, (ROWS, COLUMNS)), np.float32)


def seen(stops: np.ndarray, seconds: float, clip: float = 6.0, crush: float = -8.0, generation: int = 1) -> LightMap:
    """The map of these stops by a camera whose signal ends at ``clip`` and ``crush`` stops."""
    noise = np.random.default_rng(round(1000 * seconds) + 1).normal(0.0, 0.01, stops.shape)
    light = np.clip(stops + noise, crush, clip).astype(np.float32)
    clipped, crushed = stops >= clip, stops <= crush
    return LightMap(
        stops=light,
        room=np.asarray(clip - light, np.float32),
        trusted=~clipped & ~crushed,
        clipped=clipped,
        crushed=crushed,
        at=Instant(seconds, 1.7e9 + seconds),
        generation=generation,
        area=AREA,
    )


def body_and_face() -> np.ndarray:
    """The cells of the sitter of ``FACE``."""
    cells = np.zeros((ROWS, COLUMNS), bool)
    x, y, width, height = FACE
    cells[round(y * ROWS) : round((y + height) * ROWS), round(x * COLUMNS) : round((x + width) * COLUMNS)] = True
    cells[round((y + height) * ROWS) :, round((x - width) * COLUMNS) : round((x + 2.0 * width) * COLUMNS)] = True
    return cells


class Run:
    """A recogniser that is shown one map after another."""

    def __init__(self, rate: float = 10.0) -> None:
        self.state: TurnState = begin()
        self.rate, self.now, self.told = rate, 0.0, list[Turn]()

    def show(
        self,
        stops: np.ndarray,
        seconds: float,
        sitters: tuple[SeenSitter, ...] = SITTER,
        clip: float = 6.0,
        generation: int = 1,
        restless: float = 0.0,
    ) -> list[Turn]:
        """The same light for some time; the turns told in it."""
        told: list[Turn] = []
        for _ in range(round(seconds * self.rate)):
            light = seen(stops, self.now, clip, generation=generation)
            self.state, turns = step(self.state, light, sitters, light.at, restless)
            told += turns
            self.now += 1.0 / self.rate
        self.told += told
        return told
