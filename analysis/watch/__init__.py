"""Wires a feed, the engine and the outputs into a running watch, with or without a screen."""

from analysis.engine.listeners import Diary, OutletLike, Recorder
from analysis.watch.desks import Desks
from analysis.watch.opening import open_sitters, open_watch
from analysis.watch.room import RoomLeft
from analysis.watch.running import Watch

__all__ = ["Desks", "Diary", "OutletLike", "Recorder", "RoomLeft", "Watch", "open_sitters", "open_watch"]
