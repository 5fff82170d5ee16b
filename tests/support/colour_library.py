"""The general-purpose colour library that curves are compared with; without it those tests say so and skip."""

from __future__ import annotations

import importlib
import warnings
from typing import Any

import pytest


def colour_library() -> Any:
    """The module ``colour``, its notes about missing plots and SciPy left out."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            importlib.import_module("colour.models")
            return importlib.import_module("colour")
        except ImportError:
            pytest.skip("colour-science is not installed: pip install 'stopkeeper[test]'")
