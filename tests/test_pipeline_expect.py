"""What the speech model is told beforehand, and the marks that the speaker asks for."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from reviewer.pipeline import HearWith, grade_note
from reviewer.pipeline.expect import expected
from reviewer.records import NoteContext
from reviewer.speech import activity
from tests.speech.fakes import MODEL, FakeEars, loud
from tests.speech.sounds import save, tones
from tests.talk import CONTEXT


def test_the_man_under_review_is_named_first_and_the_trade_talks_after() -> None:
    told = expected(CONTEXT).prompt
    assert told.startswith("The Calder Stags. 74 Wes Tillery, 65 Anton Brisco, ")
    assert told.index("95 Rex Adair") < told.index("bull rush")


def test_without_a_roster_only_the_trade_talks() -> None:
    assert expected(NoteContext()).prompt.startswith("Film review")


def test_a_long_roster_is_cut() -> None:
    many = dataclasses.replace(CONTEXT, roster=CONTEXT.roster * 8)
    assert len(expected(many).prompt) < 700


def test_a_note_is_heard_under_its_roster(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(activity, "voiced", loud)  # the detector knows voices, not tones
    ears = FakeEars()
    recording = save(tmp_path / "note.wav", tones((1.0, 0.0), (3.0, 0.5), (1.0, 0.0)))
    how = HearWith(model=MODEL, load=ears, cache=tmp_path / "kept")
    graded = grade_note(recording, CONTEXT, library=None, how=how)
    assert graded.model == MODEL.name
    assert any("74 Wes Tillery" in prompt for prompt in ears.prompts)
    # nothing is told where nothing is wanted
    plain = FakeEars()
    grade_note(
        recording, CONTEXT, library=None, how=dataclasses.replace(how, load=plain, prompt="", hotwords="")
    )
    assert plain.prompts and not any(plain.prompts)


def test_mark_it_is_told_with_its_place(tmp_path: Path) -> None:
    note = tmp_path / "note.vtt"
    note.write_text(
        "WEBVTT\n\n00:01.000 --> 00:04.000\nFirst and ten, he seals the edge.\n\n"
        "01:28.000 --> 01:29.000\nMark it.\n",
        "utf-8",
    )
    graded = grade_note(note, CONTEXT, library=None)
    assert [remark for remark in graded.remarks if "marked" in remark] == ["1:28.0: marked as you said."]
