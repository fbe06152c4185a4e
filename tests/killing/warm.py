"""What the server of child processes has loaded, so that a child begins its work at once."""

from __future__ import annotations

from pathlib import Path

import av  # noqa: F401
import sqlite_utils  # noqa: F401
from tqdm import tqdm

import reviewer.cli
import reviewer.commands.grade
import reviewer.commands.keep
import reviewer.intake.beside
import reviewer.intake.commands
import reviewer.intake.plays
import reviewer.intake.season
import reviewer.reports.cuts.sync
import reviewer.reports.lexicon
import reviewer.review.lessons
import reviewer.review.session
import reviewer.speech.record_desk
import reviewer.speech.transcribe  # noqa: F401
from reviewer.language.read import Reader
from reviewer.pipeline import read_words, text_source
from reviewer.pipeline.source import spoken_words
from tests.killing import deciding, hearing, joining, keeping, recording  # noqa: F401
from tests.talk import CONTEXT, TEXT

tqdm.get_lock()  # made in a child that is killed, it would be left over
READER = Reader.load(own_vocabulary=Path("none of one's own"))
# the first reading loads what later ones share
read_words(spoken_words(text_source(TEXT.encode(), "warm")), CONTEXT, READER)
