"""Following: names that stay, boxes that are smoothed, who is the main one, what becomes of a face that is missed."""

from __future__ import annotations

import itertools

import msgspec
import numpy as np
import pytest

from analysis.measure.face import Box, Face
from analysis.measure.follow import HOLD, MOST, REMEMBERED, WATCHED, Company, choose, follow, look, overlap
from analysis.measure.shrunken import Shrunken
from analysis.model.instant import Instant

AREA = (0, 0, 1280, 720)
STEP = 0.25  # a number that floats hold exactly
LEFT, RIGHT = (200.0, 200.0, 150.0, 200.0), (800.0, 220.0, 130.0, 170.0)


def picture(level: float = 40.0, *places: tuple[Box, float]) -> Shrunken:
    """A small grey picture at that level in IRE, with other levels within boxes given in picture pixels."""
    luma = np.full((180, 320), round(2.55 * level), np.uint8)
    for (x, y, width, height), other in places:
        luma[int(y / 4) : int((y + height) / 4) + 1, int(x / 4) : int((x + width) / 4) + 1] = round(2.55 * other)
    return Shrunken(np.repeat(luma[:, :, None], 3, axis=2), luma, AREA)


def face(box: Box, confidence: float = 0.9, turn: float = 0.0) -> Face:
    return Face(box=box, confidence=confidence, turn=turn)


def moved(box: Box, x: float = 0.0, y: float = 0.0, scale: float = 1.0) -> Box:
    return box[0] + x, box[1] + y, box[2] * scale, box[3] * scale


class Story:
    """A company and a clock: one search after the other."""

    def __init__(self, start: float = 50.0) -> None:
        self.company, self.seconds = Company(), start

    @property
    def now(self) -> Instant:
        return Instant(self.seconds, 0.0)

    def search(self, *faces: Face, small: Shrunken | None = None, step: float = STEP, **how: float) -> Company:
        self.seconds += step
        self.company = follow(self.company, faces, small or picture(), self.now, **how)
        return self.company

    def states(self) -> dict[str, str | None]:
        return {sitter.name: sitter.state(self.now) for sitter in self.company.present(self.now)}


def test_a_new_face_must_be_more_certain_than_one_that_is_kept() -> None:
    story = Story()
    assert story.search(face(LEFT, 0.65)).sitters == ()
    assert [s.name for s in story.search(face(LEFT, 0.75)).sitters] == ["sitter 1"]
    assert story.search(face(LEFT, 0.61)).sitters[0].confidence == 0.61
    assert story.states() == {"sitter 1": "seen"}


def test_two_people_keep_their_names_while_they_move() -> None:
    story = Story()
    story.search(face(LEFT), face(RIGHT))
    for number in range(20):
        one, other = moved(LEFT, 6.0 * number, 3.0 * number), moved(RIGHT, -4.0 * number)
        faces = [face(one), face(other)] if number % 2 else [face(other), face(one)]
        company = story.search(*faces)
        assert [s.name for s in company.sitters] == ["sitter 1", "sitter 2"]
        assert company.sitters[0].box[0] == pytest.approx(one[0], abs=10)
        assert company.sitters[1].box[0] == pytest.approx(other[0], abs=10)


def test_people_who_pass_each_other_keep_their_names() -> None:
    """Sizes and small steps tell them apart as long as their boxes do not fully cover each other."""
    story = Story()
    big, small = (100.0, 150.0, 200.0, 260.0), (1000.0, 400.0, 120.0, 160.0)
    for number in range(46):
        company = story.search(face(moved(big, 20.0 * number)), face(moved(small, -20.0 * number)))
    assert [s.name for s in company.sitters] == ["sitter 1", "sitter 2"]
    assert company.sitters[0].box[3] > company.sitters[1].box[3]
    assert company.sitters[0].box[0] > company.sitters[1].box[0]


def test_a_scripted_conversation() -> None:
    """Two sit down, one turns away and comes back, a third walks in: the names stay with their people."""
    story = Story()
    story.search(face(LEFT))
    assert list(story.states()) == ["sitter 1"]
    for _ in range(10):
        story.search(face(LEFT), face(RIGHT))
    assert list(story.states()) == ["sitter 1", "sitter 2"]
    for _ in range(15):  # three seconds without the left one
        story.search(face(RIGHT))
    assert story.states() == {"sitter 2": "seen"}
    third = (520.0, 210.0, 120.0, 160.0)
    story.search(face(RIGHT), face(third))
    assert story.states() == {"sitter 2": "seen", "sitter 3": "seen"}
    story.search(face(RIGHT), face(third), face(moved(LEFT, 40.0)))
    assert story.states() == {"sitter 1": "seen", "sitter 2": "seen", "sitter 3": "seen"}
    by_name = {sitter.name: sitter.box for sitter in story.company.sitters}
    assert by_name["sitter 1"][0] == pytest.approx(240.0) and by_name["sitter 3"] == third


def test_a_name_is_free_again_after_a_while() -> None:
    story = Story()
    story.search(face(LEFT), face(RIGHT))
    story.search(face(RIGHT))
    story.search(face(RIGHT), step=HOLD + 0.5)
    middle = (520.0, 500.0, 60.0, 80.0)
    assert [s.name for s in story.search(face(RIGHT), face(middle)).sitters] == ["sitter 2", "sitter 3"]
    story.search(face(RIGHT), step=REMEMBERED)
    assert [s.name for s in story.search(face(RIGHT), face(middle)).sitters] == ["sitter 2", "sitter 3"]
    names = [s.name for s in story.search(face(RIGHT), face(LEFT)).sitters]
    assert names == ["sitter 1", "sitter 2", "sitter 3"]  # the third is held, the first name was free


def test_who_comes_back_alone_has_the_name_again_wherever() -> None:
    story = Story()
    story.search(face(LEFT))
    story.search(step=HOLD + 0.5)
    assert story.search(face(RIGHT)).sitters[0].name == "sitter 1"


def test_seen_held_gone() -> None:
    story = Story()
    story.search(face(LEFT))
    seen = []
    for _ in range(8):
        story.search()
        seen.append(story.states().get("sitter 1"))
    assert seen == ["held"] * 4 + [None] * 4
    assert story.company.gone[0].name == "sitter 1"


def test_found_again_within_the_second_is_seen_again() -> None:
    story = Story()
    story.search(face(LEFT))
    story.search()
    story.search()
    assert story.states() == {"sitter 1": "held"}
    story.search(face(moved(LEFT, 30.0)))
    assert story.states() == {"sitter 1": "seen"}
    assert story.company.sitters[0].box[0] == 230.0  # after a miss the box is taken as found


def test_a_place_that_looks_different_is_not_held() -> None:
    """The sitter stood up: what is read there would be the wall."""
    story = Story()
    story.search(face(LEFT), small=picture(20.0, (LEFT, 45.0)))
    story.search(small=picture(20.0))
    assert story.states() == {}


@pytest.mark.parametrize("change,state", [(4.0, "held"), (-4.0, "held"), (9.0, None), (-9.0, None)])
def test_a_place_whose_level_changes_little_is_held(change: float, state: str | None) -> None:
    story = Story()
    story.search(face(LEFT), small=picture(45.0))
    story.search(small=picture(45.0 + change))
    assert story.states().get("sitter 1") == state


@pytest.mark.parametrize(
    "level,black,end,state",
    [
        (3.0, 0.0, 100.0, "too dark"),
        (12.0, 7.3, 100.0, "too dark"),
        (99.0, 0.0, 100.0, "clipped"),
        (91.0, 0.0, 92.0, "clipped"),
    ],
)
def test_dark_and_clipped_are_held_for_a_second_and_then_said(
    level: float, black: float, end: float, state: str
) -> None:
    story = Story()
    for _ in range(5):
        story.search(face(LEFT), small=picture(45.0), black=black, end=end)
    told = []
    for _ in range(10):
        story.search(small=picture(level), black=black, end=end)
        told.append(story.states()["sitter 1"])
    assert told == ["held"] * 4 + [state] * 6
    for _ in range(round((WATCHED - 2.0) / STEP) + 1):
        story.search(small=picture(level), black=black, end=end)
    assert story.states() == {}


def test_half_a_face_clipped_is_clipped() -> None:
    x, y, width, height = LEFT
    for part, state in ((0.55, "clipped"), (0.45, None)):
        story = Story()
        story.search(face(LEFT), small=picture(60.0))
        bright = ((x, y, part * width, height), 99.5)
        for _ in range(6):
            story.search(small=picture(60.0, bright))
        assert story.states().get("sitter 1") == state


def test_light_comes_back_and_so_does_the_name() -> None:
    story = Story()
    for _ in range(5):
        story.search(face(LEFT))
    for _ in range(20):
        story.search(small=picture(2.0))
    assert story.states() == {"sitter 1": "too dark"}
    story.search(face(LEFT))
    assert story.states() == {"sitter 1": "seen"}
    assert story.company.sitters[0].lost is None


def test_a_dark_place_is_given_up_when_light_shows_nobody_there() -> None:
    story = Story()
    story.search(face(LEFT))
    for _ in range(10):
        story.search(small=picture(2.0))
    story.search(small=picture(40.0))
    assert story.states() == {}


@pytest.mark.parametrize("how", ["walked", "edge"])
def test_who_walked_out_in_front_of_black_did_not_go_dark(how: str) -> None:
    story, black = Story(), picture(2.0)
    start = LEFT if how == "walked" else (1100.0, 200.0, 150.0, 200.0)
    speed = 30.0 if how == "walked" else 1.0
    box = start
    for number in range(10):
        box = moved(start, speed * number)
        story.search(face(box), small=picture(2.0, (box, 50.0)))
    if how == "edge":
        box = (1127.0, 200.0, 150.0, 200.0)
        story.search(face(box), small=picture(2.0, (box, 50.0)))
    story.search(small=black)
    assert story.states() == {}


def test_without_searches_everybody_ages_away() -> None:
    """A search that hangs must not leave a face on the screen."""
    story = Story()
    story.search(face(LEFT))
    sitter = story.company.sitters[0]
    states = [sitter.state(Instant(story.seconds + age, 0.0)) for age in (0.1, 0.45, 0.6, 0.95, 1.05, 10.0)]
    assert states == ["seen", "seen", "held", "held", None, None]


def test_a_lost_state_ages_away_too() -> None:
    story = Story()
    story.search(face(LEFT))
    for _ in range(8):
        story.search(small=picture(1.0))
    sitter = story.company.sitters[0]
    assert sitter.state(story.now) == "too dark"
    assert sitter.state(Instant(story.seconds + HOLD + 0.1, 0.0)) is None


def test_boxes_are_smoothed_with_a_time_constant_of_0_3_seconds() -> None:
    """A step of 10 pixels: 1 - exp(-t / 0.3) of it is taken after t seconds."""
    story = Story()
    story.search(face(LEFT))
    for number in range(1, 5):
        story.search(face(moved(LEFT, 10.0)))
        due = 10.0 * (1.0 - np.exp(-number * STEP / 0.3))
        assert story.company.sitters[0].box[0] - LEFT[0] == pytest.approx(due, abs=0.01)


def test_a_trembling_box_is_steadied() -> None:
    rng = np.random.default_rng(4)
    story, raw, smooth = Story(), [], []
    for _ in range(200):
        box = moved(LEFT, float(rng.normal(0, 4.0)))
        story.search(face(box))
        raw.append(box[0])
        smooth.append(story.company.sitters[0].box[0])
    assert np.std(smooth[20:]) < 0.65 * np.std(raw[20:])
    assert np.mean(smooth[20:]) == pytest.approx(LEFT[0], abs=1.0)


def test_a_face_that_jumps_is_followed_at_once() -> None:
    story = Story()
    story.search(face(LEFT))
    story.search(face(moved(LEFT, 80.0)))
    assert story.company.sitters[0].box[0] == LEFT[0] + 80.0
    assert story.company.sitters[0].name == "sitter 1"


@pytest.mark.parametrize("scale,same", [(1.5, True), (2.5, False)])
def test_a_near_face_of_another_size_is_another_face(scale: float, same: bool) -> None:
    story = Story()
    story.search(face(LEFT))
    story.search(face(moved(LEFT, 170.0, 0.0, scale)))
    assert story.company.sitters[-1].name == ("sitter 1" if same else "sitter 2")


def test_the_larger_and_steadier_is_the_main_one() -> None:
    story = Story()
    for _ in range(10):
        story.search(face(LEFT), face(RIGHT))
    assert story.company.main == "sitter 1"
    assert story.company.main_at(story.now) == "sitter 1"


def test_the_main_one_changes_only_for_somebody_clearly_larger() -> None:
    story = Story()
    story.search(face(LEFT), face(RIGHT))
    for _ in range(20):
        story.search(face(LEFT), face(moved(RIGHT, scale=1.35)))
    assert story.company.main == "sitter 1"  # 1.15 times as large
    for _ in range(20):
        story.search(face(LEFT), face(moved(RIGHT, scale=1.8)))
    assert story.company.main == "sitter 2"


def test_an_unsteady_face_does_not_become_the_main_one() -> None:
    story = Story()
    story.search(face(RIGHT))
    for number in range(30):
        flickering = (face(moved(LEFT, scale=1.2)),) if number % 4 == 0 else ()
        story.search(face(RIGHT), *flickering)
    assert story.company.main == "sitter 1"


def test_the_operator_chooses() -> None:
    story = Story()
    for _ in range(5):
        story.search(face(LEFT), face(RIGHT))
    story.company = choose(story.company, "sitter 2")
    assert story.company.main_at(story.now) == "sitter 2"
    for _ in range(8):
        story.search(face(LEFT))
    assert story.company.main_at(story.now) == "sitter 1"  # the chosen one is away
    story.search(face(LEFT), face(RIGHT))
    assert story.company.main_at(story.now) == "sitter 2"
    story.company = choose(story.company, None)
    assert story.company.main_at(story.now) == "sitter 1"


def test_nobody_is_the_main_one_of_nobody() -> None:
    assert Company().main_at(Instant(0.0, 0.0)) is None
    assert choose(Company(), "sitter 7").main_at(Instant(0.0, 0.0)) is None
    assert not Company().anyone_seen(Instant(0.0, 0.0))


def test_a_crowd_is_bounded() -> None:
    story = Story()
    boxes = [(20.0 + 90.0 * n, 50.0 + 200.0 * row, 60.0, 80.0) for n, row in itertools.product(range(10), range(3))]
    for _ in range(3):
        company = story.search(*(face(box) for box in boxes))
    assert len(company.sitters) == MOST
    for number in range(100):
        story.search(*(face(moved(box, y=50.0 * (number % 7))) for box in boxes[:: 1 + number % 3]))
        assert len(story.company.sitters) <= MOST
        assert len(story.company.gone) <= 16 * MOST
        assert len({sitter.name for sitter in story.company.sitters}) == len(story.company.sitters)


def test_the_turn_of_the_head_is_smoothed_too() -> None:
    story = Story()
    story.search(face(LEFT, turn=0.0))
    story.search(face(LEFT, turn=0.4))
    assert 0.1 < story.company.sitters[0].turn < 0.3


def test_a_clock_that_goes_back_does_no_harm() -> None:
    story = Story()
    story.search(face(LEFT))
    story.search(face(LEFT), step=-5.0)
    story.search(step=-5.0)
    assert all(np.isfinite(value) for value in story.company.sitters[0].box)


def test_the_state_is_frozen() -> None:
    story = Story()
    before = story.search(face(LEFT))
    story.search(face(moved(LEFT, 20.0)))
    assert before.sitters[0].box == LEFT
    with pytest.raises(AttributeError):
        before.main = "sitter 9"  # type: ignore[misc]
    assert msgspec.json.decode(msgspec.json.encode(before), type=Company) == before


@pytest.mark.parametrize(
    "one,other,due",
    [
        ((0, 0, 10, 10), (0, 0, 10, 10), 1.0),
        ((0, 0, 10, 10), (5, 5, 10, 10), 25 / 175),
        ((0, 0, 10, 10), (10, 0, 10, 10), 0.0),
        ((0, 0, 10, 10), (2, 2, 5, 5), 0.25),
    ],
)
def test_overlap_is_intersection_over_union(one: Box, other: Box, due: float) -> None:
    assert overlap(one, other) == pytest.approx(due)
    assert overlap(other, one) == pytest.approx(due)


def test_a_look_outside_the_picture_is_none() -> None:
    assert look(picture(), (-900.0, 0.0, 100.0, 100.0)) is None
    assert look(picture(), (0.0, 0.0, 4.0, 4.0)) is None
    seen = look(picture(40.0, (LEFT, 99.5)), LEFT)
    assert seen is not None and seen.clipped == 1.0 and seen.level == pytest.approx(99.6, abs=0.5)
