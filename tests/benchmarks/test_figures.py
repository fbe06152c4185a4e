"""The measurements themselves: their arithmetic, their peers, and the page they are written into."""

from __future__ import annotations

import re
import sys
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

import benchmarks.__main__ as table
from benchmarks import _engines, _figures, hearing, reading, review, start
from benchmarks._figures import Figure, as_markdown, as_text, put_into
from benchmarks._process import spent
from reviewer.language.vocabulary import load_vocabulary
from reviewer.speech.decode import duration
from tests.annotated import load_part

FIGURE = Figure("reading", 0.5, "s CPU", (("one", 2.0), ("two", 1.0)), 2.0)


def test_a_figure_stands_against_the_best_other_and_the_limit() -> None:
    assert FIGURE.best == ("two", 1.0)
    assert FIGURE.ratio == 0.5
    assert FIGURE.cells() == ("reading", "0.5 s CPU", "two: 1 s CPU", "0.5", "2 s CPU", "0.25")


def test_a_figure_with_nothing_beside_it() -> None:
    assert Figure("memory", 512.3, "MB").cells() == ("memory", "512 MB", "–", "–", "–", "–")
    assert Figure("memory", 1.0, "MB", (("none", 0.0),)).ratio is None


def test_columns_stand_under_each_other() -> None:
    head, first, second = as_text([FIGURE, Figure("x", 1.0)]).splitlines()
    assert head.index("best other") == first.index("two: 1 s CPU") == second.index("–")


def test_the_table_names_day_and_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_figures.os, "cpu_count", lambda: 6)
    lines = as_markdown([FIGURE], date(2031, 9, 4)).splitlines()
    assert lines[0].startswith("Measured 2031-09-04 on 6 processors, load ")
    assert lines[2:] == [
        "| what | here | best other | here / other | limit | here / limit |",
        "| --- | --- | --- | --- | --- | --- |",
        "| reading | 0.5 s CPU | two: 1 s CPU | 0.5 | 2 s CPU | 0.25 |",
    ]


def test_a_table_takes_the_place_of_the_one_before_and_nothing_else() -> None:
    page = "# Top\n<!-- measured: a -->\n\nold\n\n<!-- end -->\nwords\n<!-- measured: b -->\n\n<!-- end -->\n"
    first = put_into(page, "a", "new \\1")
    assert first == page.replace("old", "new \\1")
    assert put_into(first, "a", "old") == page
    assert put_into(page, "b", "more").endswith("<!-- measured: b -->\n\nmore\n\n<!-- end -->\n")
    with pytest.raises(ValueError, match="no place for c"):
        put_into(page, "c", "new")


def test_every_table_of_the_page_has_a_measurement_with_limits_or_others() -> None:
    marked = re.findall(r"<!-- measured: (\w+) -->", _figures.PAGE.read_text("utf-8"))
    assert sorted(marked) == table.written() == ["choices", "hearing", "reading", "review", "start"]
    assert {"grade", "search", "sheet"} < set(table.names())


def test_write_puts_the_table_into_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.md"
    page.write_text("<!-- measured: start -->\n\n<!-- end -->\n", "utf-8")
    monkeypatch.setattr(table, "PAGE", page)
    monkeypatch.setattr(start, "measure", lambda: [FIGURE])
    ran = CliRunner().invoke(table.main, ["--write", "start"])
    assert ran.exit_code == 0, ran.output
    assert "| reading | 0.5 s CPU |" in page.read_text("utf-8")
    before = page.read_text("utf-8")
    assert CliRunner().invoke(table.main, ["--write", "search"]).exit_code != 0
    assert page.read_text("utf-8") == before


def test_a_process_is_measured_and_its_failure_is_told() -> None:
    done = spent([sys.executable, "-c", "x = bytearray(60_000_000); print(len(x))"])
    assert done.out == "60000000\n"
    assert done.peak_mb > 60
    assert done.cpu_s > 0
    with pytest.raises(RuntimeError, match=r"ended with 3: .*gone wrong"):
        spent([sys.executable, "-c", "import sys; print('gone wrong', file=sys.stderr); sys.exit(3)"])


def test_the_word_error_rate_counts_changed_words_and_takes_figures_as_words() -> None:
    recording = hearing.chosen(every=False)[0]
    words = [word.text for word in hearing.load_note(hearing.annotation(recording)).words]
    assert hearing.word_error({str(recording): words}) == 0
    half = hearing.word_error({str(recording): words[: len(words) // 2]})
    assert 0.4 < half < 0.6
    assert hearing.word_error({str(recording): []}) == pytest.approx(1.0)


def test_the_shortest_recordings_are_heard_unless_all_are_asked_for() -> None:
    some, every = hearing.chosen(every=False), hearing.chosen(every=True)
    assert len(some) == hearing.SOME <= len(every)
    assert max(map(duration, some)) <= min(duration(path) for path in every if path not in some)


def test_an_engine_that_is_not_installed_is_said_and_left_out(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        _engines,
        "ENGINES",
        {
            "here": ("json", _engines.ours),
            "other": ("json", _engines.plain),
            "gone": ("no_such_module", _engines.ours),
        },
    )
    monkeypatch.setattr(hearing, "spent", lambda *_: None)
    heard = {"here": hearing.Heard(0.1, 0.2, 300, 0.02), "other": hearing.Heard(0.2, 0.4, 200, 0.04)}
    monkeypatch.setattr(hearing, "hear_with", lambda name, *_: heard[name])
    cpu, wall, memory, wrong, *rest = hearing.measure()
    assert capsys.readouterr().err == "gone: not installed\n"
    assert (cpu.ratio, wall.ratio, memory.ratio) == (0.5, 0.5, 1.5)
    assert wrong.here == 2.0
    assert [figure.here for figure in rest] == [4.0]


def test_the_matcher_gets_a_pattern_for_every_form() -> None:
    vocabulary = load_vocabulary()
    found = reading.patterns(vocabulary)
    assert len(found) == sum(len(term.forms) + len(term.mishearings) for term in vocabulary.terms)
    assert all(found)


def test_the_long_note_is_the_development_notes_one_after_another() -> None:
    words, context = reading.long_note(1500)
    notes = load_part("dev")
    assert len(words) == 1500
    assert context == notes[0].context
    assert [word.text for word in words[:50]] == [word.text for word in notes[0].words[:50]]
    assert all(one.start <= two.start for one, two in pairwise(words))


def test_reading_a_quarter_of_an_hour_stays_within_its_limit() -> None:
    words, context = reading.long_note()
    reader = reading.Reader.load()
    reader.read(words[:40], context, heard=True)
    # processor time, so that a busy machine does not count
    assert reading.cpu(lambda: reader.read(words, context, heard=True), 1) < reading.LIMIT_S


def test_the_help_stays_within_its_limit(tmp_path: Path) -> None:
    assert start.least((start._OURS, "--help"), 3, {"REVIEWER_HOME": str(tmp_path)}) < start.LIMIT_S


async def test_the_bare_table_is_driven_like_the_review() -> None:
    up, spent_s = await review.bare_table(rows=20, rounds=1)
    assert up > 0
    assert len(spent_s) == 5
