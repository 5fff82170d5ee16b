"""A camera that is unplugged and comes back: under its number, under another, or not itself."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from analysis.feed.v4l2.device import Device
from analysis.feed.v4l2.identity import Memory
from analysis.model.errors import FeedGone
from tests.device import vivid
from tests.device.test_faults import until_error

# node numbers of both cameras, the other way round
SWAPPED = ("vid_cap_nr=4,0", "vid_out_nr=1,5", "meta_cap_nr=2,6", "meta_out_nr=3,7")


@pytest.fixture
def reloaded() -> Iterator[None]:
    """Puts the driver back as the rig loaded it; named first by a test, so that its feeds are closed before."""
    yield
    vivid.reload(*vivid.LOADED)


def test_unplug_and_return(feed) -> None:
    memory = Memory()
    source = feed(memory=memory)
    source.read()
    vivid.unplug()
    told = until_error(source)
    assert isinstance(told, FeedGone) and "the device is gone" in str(told)
    source.close()
    with pytest.raises(FeedGone, match="the camera vivid-000-vid-cap is gone; plug it in again"):
        feed(memory=memory)
    vivid.plug()
    assert feed(memory=memory).read().planes[0].shape == (180, 640)


def test_back_under_another_number(feed) -> None:
    """While somebody still holds the old node its number is taken, and the camera gets a new one."""
    memory = Memory()
    source = feed(memory=memory)
    source.read()
    holder = Device(vivid.CAMERA)
    try:
        vivid.unplug()
        assert isinstance(until_error(source), FeedGone)
        source.close()
        vivid.plug()
        again = feed(memory=memory)
        assert again.address == vivid.CAMERA
        assert again.read().planes[0].shape == (180, 640)
        again.close()
    finally:
        holder.close()
        vivid.unplug()


def test_another_camera_with_the_old_number_is_refused(reloaded, feed) -> None:
    memory = Memory()
    second = feed("/dev/video4", memory=memory)
    second.read()
    second.close()
    vivid.reload("n_devs=1", "vid_cap_nr=4")
    with pytest.raises(FeedGone) as told:
        feed("/dev/video4", memory=memory)
    assert "vivid-001-vid-cap is gone and another one, vivid-000-vid-cap, has its number; it is not used" in str(
        told.value
    )


def test_two_cameras_that_changed_their_numbers_are_both_found(reloaded, feed) -> None:
    memory = Memory()
    for node, pattern in ((vivid.CAMERA, vivid.WHITE), ("/dev/video4", vivid.BLACK)):
        vivid.control(f"osd_text_mode=2,test_pattern={pattern}", node)
        feed(node, memory=memory).close()
    vivid.reload("n_devs=2", *SWAPPED)  # the same cameras, the other way round
    for node, pattern in (
        ("/dev/video4", vivid.WHITE),
        (vivid.CAMERA, vivid.BLACK),
    ):
        vivid.control(f"osd_text_mode=2,test_pattern={pattern}", node)
    white, black = (feed(node, memory=memory).read().planes[0][:, ::2].mean() for node in (vivid.CAMERA, "/dev/video4"))
    assert white > 200 and black < 40
