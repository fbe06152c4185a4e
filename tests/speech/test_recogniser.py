"""The real model on a few seconds of a demo recording."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace

import jiwer
import numpy as np
import pytest

from reviewer.errors import ModelError
from reviewer.records import Word
from reviewer.speech import decode
from reviewer.speech.models import Model
from reviewer.speech.recogniser import WhisperRecogniser, _words, usable_processors
from reviewer.speech.transcribe import hear

from .conftest import CLIP_S, CLIP_WORDS


def plain(text: str) -> str:
    text = re.sub(r"\b1st\b", "first", text.lower()).replace("10", "ten").replace("-", " ")
    return re.sub(r"[^a-z0-9 ]", "", text)


def error_rate(words: Sequence[Word], said: str = CLIP_WORDS) -> float:
    heard = plain(" ".join(word.text for word in words)).split()
    # the clip ends inside the talk: what comes after the last known word does not count
    return float(jiwer.wer(said, " ".join(heard[: len(said.split())])))


def test_real_talk_is_heard_with_times_and_probabilities(whisper: WhisperRecogniser, clip: Path) -> None:
    audio = decode.span(clip, 0.0, CLIP_S)
    segments = list(whisper.hear(audio))
    words = [word for segment in segments for word in segment.words]
    assert error_rate(words) < 0.15
    assert all(0.0 <= word.start <= word.end <= CLIP_S + 0.1 for word in words)
    assert [word.start for word in words] == sorted(word.start for word in words)
    assert all(0.0 < word.probability <= 1.0 for word in words)
    assert all(segment.logprob > -1.0 and segment.repetition < 2.4 for segment in segments)


def test_a_prompt_without_end_does_not_silence_the_model(
    real_model: Model, whisper: WhisperRecogniser, clip: Path, tmp_path: Path
) -> None:
    # prompt and hotwords of 223 tokens each leave the decoder no room: the library then writes
    # nothing; and so much of the same makes the model repeat it instead of listening
    trade = "Second and eight. Inside zone. He takes the bull rush and anchors. "
    heard = hear(
        clip,
        model=real_model,
        prompt=trade * 40,
        hotwords="duo, pin and pull, T-E stunt, " * 40,
        cache=tmp_path,
        load=lambda _: whisper,
    )
    assert error_rate(heard.words) < 0.35


def test_the_language_is_told(whisper: WhisperRecogniser, clip: Path) -> None:
    code, probability = whisper.language(decode.span(clip, 0.0, CLIP_S))
    assert code == "en"
    assert probability > 0.9


def test_a_whole_pass_over_a_file(
    real_model: Model, whisper: WhisperRecogniser, clip: Path, tmp_path: Path
) -> None:
    loads: list[Model] = []

    def load(model: Model) -> WhisperRecogniser:
        loads.append(model)
        return whisper

    heard = hear(clip, model=real_model, cache=tmp_path, load=load)
    assert error_rate(heard.words) < 0.15
    assert heard.gaps == ()
    assert heard.language_note == ""
    assert hear(clip, model=real_model, cache=tmp_path, load=load) == heard
    assert loads == [real_model]


def test_a_damaged_model_is_one_sentence(real_model: Model, tmp_path: Path) -> None:
    folder = tmp_path / "broken"
    folder.mkdir()
    for name in ("config.json", "tokenizer.json", "vocabulary.txt"):
        (folder / name).write_bytes((real_model.path / name).read_bytes())
    (folder / "model.bin").write_bytes(b"no weights" * 1000)
    with pytest.raises(ModelError) as refused:
        WhisperRecogniser(Model("broken", folder, "0" * 64))
    assert str(refused.value).startswith(f"the speech model in {folder} cannot be loaded (")
    assert "\n" not in str(refused.value)


def test_a_card_without_its_libraries_is_no_hindrance(
    real_model: Model, monkeypatch: pytest.MonkeyPatch
) -> None:
    import ctranslate2

    monkeypatch.setattr(ctranslate2, "get_cuda_device_count", lambda: 1)
    found = WhisperRecogniser(real_model)
    assert found.whisper.model.device == "cpu"


def test_pieces_become_words() -> None:
    def piece(word: str, start: float, probability: float) -> SimpleNamespace:
        return SimpleNamespace(word=word, start=np.float64(start), end=start + 0.2, probability=probability)

    pieces = [
        piece(" ninety", 0.0, 0.9),
        piece(" -seven.", 0.2, 0.5),
        piece(" ", 0.4, 0.1),
        piece(" T", 0.6, 0.8),
        piece("-E", 0.8, 0.7),
        piece(" - ", 1.0, 0.2),
        piece(" win", 1.2, 0.6),
    ]
    assert list(_words(pieces)) == [
        Word("ninety-seven.", 0.0, 0.4, 0.5),
        Word("T-E", 0.6, 1.0, 0.7),
        Word("-", 1.0, 1.2, 0.2),
        Word("win", 1.2, 1.4, 0.6),
    ]
    assert list(_words([])) == []


def test_at_least_one_processor_is_used() -> None:
    assert 1 <= usable_processors() <= 8
