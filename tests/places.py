"""Where the tests find what lies beside the project, and what to say where it is absent."""

from __future__ import annotations

from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent
SHARED = PROJECT.parent / "shared"
RECORDINGS = SHARED / "recordings"
SCENES = SHARED / "scenes"

needs_recordings = pytest.mark.skipif(
    not RECORDINGS.is_dir(), reason=f"off-air recordings are not at {RECORDINGS}: they are no part of the project"
)
needs_scenes = pytest.mark.skipif(
    not SCENES.is_dir(), reason=f"made scenes are not at {SCENES}: they are no part of the project"
)
