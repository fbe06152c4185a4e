"""The real speech model, put together once for all tests, and a few seconds of real talk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewer import paths
from reviewer.speech import decode
from reviewer.speech.models import Model, find_model
from reviewer.speech.recogniser import WhisperRecogniser

from .sounds import save

CLIP_S = 15.0
CLIP_WORDS = (
    "left guard number 66 kessling this is the otters film marlow ridge has the ball lets go "
    "first and ten inside zone hes playside"
)
"""What is said in the first seconds of the terse coach's demo recording; see its YAML file."""


@pytest.fixture(scope="session")
def real_model(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Model]:
    """The default model, joined in a library of its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(paths.HOME_VARIABLE, str(tmp_path_factory.mktemp("library")))
        yield find_model()


@pytest.fixture(scope="session")
def whisper(real_model: Model) -> WhisperRecogniser:
    """The default model, loaded once."""
    return WhisperRecogniser(real_model)


@pytest.fixture(scope="session")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first seconds of a demo recording, as a file of their own."""
    sound = decode.span(paths.demo_audio() / "terse-coach.ogg", 0.0, CLIP_S)
    return save(tmp_path_factory.mktemp("clip") / "clip.flac", sound)
