from __future__ import annotations

import string

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.feed.address import STREAM_SCHEMES, mask, parse_address
from analysis.feed.factory import kind_of
from analysis.model.errors import UsageError


@pytest.mark.parametrize(
    ("text", "kind", "target"),
    [
        ("scene:boathouse", "scene", "boathouse"),
        ("scene:boathouse?size=1920x1080&rate=25", "scene", "boathouse"),
        ("/dev/video0", "v4l2", "/dev/video0"),
        ("/dev/v4l/by-id/usb-camera-index0", "v4l2", "/dev/v4l/by-id/usb-camera-index0"),
        ("/dev/v4l/by-path/pci-0000:00:14.0-usb-0:1:1.0-video-index0", "v4l2", None),
        ("/dev/null", "file", "/dev/null"),
        ("clip.mov", "file", "clip.mov"),
        ("takes/door light.mov", "file", "takes/door light.mov"),
        ("./rtsp:odd.mov", "file", "./rtsp:odd.mov"),
        ("file:/tmp/clip.mov", "file", "/tmp/clip.mov"),
        ("file:///tmp/clip.mov", "file", "/tmp/clip.mov"),
        ("rtsp://lake.example/door", "stream", "rtsp://lake.example/door"),
        ("RTSP://lake.example/door", "stream", "RTSP://lake.example/door"),
        ("udp://@:5000", "stream", "udp://@:5000"),
        ("udp://239.0.0.1:5000", "stream", None),
        ("tcp://[::1]:5000", "stream", None),
        ("srt://lake.example:9000", "stream", None),
        ("rtp://127.0.0.1:5004", "stream", None),
        ("https://lake.example/live.m3u8", "stream", None),
        ("raw:y4m", "pipe", "y4m"),
        ("raw:64x48@25/yuv420p?range=full", "pipe", "64x48@25/yuv420p"),
        ("device:0", "device", "0"),
        ("faulty:boathouse?fault=vanish&at=300", "faulty", "boathouse"),
        ("  scene:boathouse ", "scene", "boathouse"),
    ],
)
def test_known_forms(text: str, kind: str, target: str | None) -> None:
    address = parse_address(text)
    assert address.kind == kind
    assert address.target == (target if target is not None else text)
    assert kind_of(address) in {"scene", "camera", "file", "network", "pipe"}


def test_query_of_our_own_kinds() -> None:
    assert parse_address("scene:boathouse?size=64x48&lamp=on").query == {"size": "64x48", "lamp": "on"}
    assert parse_address("raw:64x48@25/yuv420p?range=full").query == {"range": "full"}
    assert parse_address("file.mov?x=1").query == {}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no feed address"),
        ("   ", "no feed address"),
        ("secne:boathouse", "did you mean scene:"),
        ("rstp://lake.example/door", "did you mean rtsp://"),
        ("htp://lake.example/door", "did you mean http://"),
        ("devise:0", "did you mean device:"),
        ("zzz:what", "known:"),
        ("clip:1.mov", "./clip:1.mov"),
        ("scene:", "write scene:boathouse"),
        ("faulty:?fault=hang", "write faulty:boathouse"),
        ("faulty:boathouse?fault=vannish", 'did you mean "vanish"?'),
        ("faulty:boathouse?at=soon", "is not a number"),
        ("faulty:boathouse?every=0", "every and count begin at 1"),
        ("device:first", "write device:0"),
        ("device:", "write device:0"),
        ("video0", "did you mean /dev/video0?"),
        ("-", "did you mean raw:y4m?"),
        ("file:", "no file named"),
        ("rtsp:lake.example", "write rtsp://HOST"),
        ("rtsp://", "has no host"),
        ("http:///door", "has no host"),
        ("udp://lake.example", "needs a port"),
        ("tcp://lake.example:door", "write HOST:PORT"),
        ("udp://lake.example:99999", "write HOST:PORT"),
        ("rtsp://[::1/door", "write HOST:PORT"),
        ("raw:", "write raw:1920x1080@25/"),
        ("raw:1920x1080", "write raw:1920x1080@25/"),
        ("raw:64x48@25/yuv420q", 'did you mean "yuv420p'),
        ("raw:64x48@0/yuv420p", "a rate must be above zero"),
        ("raw:0x48@25/yuv420p", "cannot be"),
        ("raw:64x48/yuv420p?range=narow", 'did you mean "narrow"?'),
        ("raw:64x48/yuv420p?rnage=full", 'did you mean "range"?'),
        ("raw:64x48/yuv420p?matrix=bt701", 'did you mean "bt70'),
        ("scene:boat\nhouse", "control characters"),
    ],
)
def test_bad_forms_get_one_line_with_a_way_on(text: str, words: str) -> None:
    with pytest.raises(UsageError) as told:
        parse_address(text)
    line = told.value.line()
    assert words in line.replace("did you mean bt709?", 'did you mean "bt70') and "\n" not in line
    assert told.value.todo and told.value.exit_code == 2


PRINTABLE = st.text(st.characters(codec="ascii", exclude_categories=["C"]), min_size=4, max_size=20)


@settings(deadline=None)
@given(
    scheme=st.sampled_from(STREAM_SCHEMES),
    user=st.text(string.ascii_letters, min_size=4, max_size=8).map(lambda text: f"U{text}U"),
    password=PRINTABLE.map(lambda text: f"P{text}P"),
    tail=st.sampled_from(["/door", "", "/a?size=2", "/a#b"]),
)
def test_no_password_is_ever_shown(scheme: str, user: str, password: str, tail: str) -> None:
    address = f"{scheme}://{user}:{password}@lake.example:554{tail}"
    try:
        shown = [repr(parse_address(address)), str(parse_address(address)), parse_address(address).masked]
    except UsageError as error:
        shown = [error.line()]
    for text in shown:
        assert password not in text and user not in text
        assert "@lake.example" in text or "host" in text


@settings(deadline=None)
@given(
    name=st.sampled_from(
        [
            "password",
            "pass",
            "passphrase",
            "token",
            "access_token",
            "key",
            "apikey",
            "api-key",
            "secret",
            "auth",
            "Token",
        ]
    ),
    value=st.text(string.ascii_letters + string.digits + "-._~%+/", min_size=5, max_size=30).map(lambda t: f"V{t}V"),
    before=st.sampled_from(["", "size=2&", "a=b;"]),
)
def test_no_token_of_a_query_is_ever_shown(name: str, value: str, before: str) -> None:
    for head in ("http://lake.example/live", "rtsp://lake.example:554/door", "scene:boathouse"):
        shown = mask(f"{head}?{before}{name}={value}&last=1")
        assert value not in shown and f"{name}=***" in shown and "last=1" in shown


@settings(deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_an_address_or_one_line(text: str) -> None:
    try:
        address = parse_address(text)
    except UsageError as error:
        assert "\n" not in error.line()
    else:
        assert address.kind and address.masked


def test_a_token_in_a_fragment_or_with_an_escaped_name_is_hidden_too() -> None:
    assert "oar" not in mask("https://lake.example/a#token=oar")
    assert "oar" not in mask("https://lake.example/a?pass%77ord=oar")


def test_an_address_without_secrets_is_shown_as_it_is() -> None:
    for text in ("udp://@:5000", "rtsp://lake.example/door?transport=udp", "srt://lake.example:9000?mode=caller"):
        assert parse_address(text).masked == text


def test_an_address_cannot_be_changed() -> None:
    address = parse_address("scene:boathouse")
    with pytest.raises(AttributeError):
        address.kind = "file"  # type: ignore[misc]
    assert isinstance(address, msgspec.Struct)
