"""Figures over annotated notes.

Every figure is over the expected rows; a row of a rep that was not found counts as wrong in each
field, and an extra row counts against the hands-off share. A read rep matches an annotated one when
they share at least half of their joint words.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reviewer.compare.annotated import AnnotatedNote
from reviewer.records import GradeRow, Reading

HANDS_OFF = ("player", "verdict", "phase", "down", "distance", "opponents", "set", "alignment", "concepts")
LISTS = ("opponents", "concepts", "moves", "games", "events", "techniques", "faults", "safety", "labels")
SINGLES = ("set", "alignment", "side", "play_result", "assignment", "technique", "finish", "position")
BINS = 10


def expected(row: dict[str, Any], name: str) -> Any:
    """An annotated row's value, with the default of a field left out."""
    if name in LISTS:
        return list(row.get(name) or [])
    if name == "goal_to_go":
        return bool(row.get(name))
    value = row.get(name)
    return str(value) if name in {"alignment", "player"} and value is not None else value


def same(name: str, gold: Any, read: Any) -> bool:
    """Whether a field needs no fix. The order of a list is not a fault."""
    return set(gold) == set(read) if name in LISTS else bool(gold == read)


@dataclass
class Tally:
    """Counts over one part."""

    true: Counter[str] = field(default_factory=Counter)
    read: Counter[str] = field(default_factory=Counter)
    gold: Counter[str] = field(default_factory=Counter)
    right: Counter[str] = field(default_factory=Counter)
    total: Counter[str] = field(default_factory=Counter)
    calibration: list[tuple[float, bool]] = field(default_factory=list)
    misses: list[str] = field(default_factory=list)

    def f1(self, name: str) -> float:
        """F1 of a field; 1 where there is nothing to find and nothing was found."""
        both = self.read[name] + self.gold[name]
        return 2 * self.true[name] / both if both else 1.0

    def share(self, name: str) -> float:
        """Share of right values."""
        return self.right[name] / self.total[name] if self.total[name] else 1.0

    def count(self, name: str, gold: Iterable[Any], read: Iterable[Any]) -> None:
        """Add one row's list field."""
        gold_set, read_set = set(gold), set(read)
        self.true[name] += len(gold_set & read_set)
        self.gold[name] += len(gold_set)
        self.read[name] += len(read_set)

    def mark(self, name: str, right: bool) -> None:
        """Add one row's right or wrong value."""
        self.right[name] += right
        self.total[name] += 1

    def calibration_error(self, bins: int = BINS) -> float:
        """Expected calibration error, equal bins (lo, hi] (Guo et al., ICML 2017, eq. 3)."""
        return calibration_error(self.calibration, bins)


def calibration_error(pairs: Sequence[tuple[float, bool]], bins: int = BINS) -> float:
    """sum n_b/n |hit rate - mean confidence| over equal bins (lo, hi]."""
    if not pairs:
        return 0.0
    groups: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for p, hit in pairs:
        groups[max(0, -int(-p * bins // 1) - 1)].append((p, hit))
    return sum(
        abs(sum(h for _, h in g) / len(g) - sum(p for p, _ in g) / len(g)) * len(g) / len(pairs)
        for g in groups.values()
    )


Places = Mapping[int, int]
"""Index of a word as read -> index of the annotated word it stands for."""


def match_reps(note: AnnotatedNote, reading: Reading, places: Places | None = None) -> dict[int, int]:
    """Annotated rep number to read rep index. places: where other words were read than annotated."""
    spoken = {
        rep.index: {
            w if places is None else places[w]
            for a, b in rep.stretches
            for w in range(a, b)
            if places is None or w in places
        }
        for rep in reading.reps
    }
    pairs = []
    for gold in note.reps:
        for index, words in spoken.items():
            joint = len(gold.words | words)
            common = len(gold.words & words)
            if joint and common / joint >= 0.5:
                pairs.append((common / joint, gold.number, index))
    matched: dict[int, int] = {}
    for _, number, index in sorted(pairs, reverse=True):
        if number not in matched and index not in matched.values():
            matched[number] = index
    return matched


def pair_rows(
    gold: Sequence[dict[str, Any]], read: Sequence[GradeRow]
) -> list[tuple[dict[str, Any] | None, GradeRow | None]]:
    """Pair a rep's rows: by player first, the rest in order."""
    left_gold, left_read = list(gold), list(read)
    pairs: list[tuple[dict[str, Any] | None, GradeRow | None]] = []
    for row in list(left_gold):
        twin = next((r for r in left_read if r.player == expected(row, "player")), None)
        if twin is not None:
            pairs.append((row, twin))
            left_gold.remove(row)
            left_read.remove(twin)
    while left_gold or left_read:
        pairs.append((left_gold.pop(0) if left_gold else None, left_read.pop(0) if left_read else None))
    return pairs


def score_note(note: AnnotatedNote, reading: Reading, tally: Tally, places: Places | None = None) -> None:
    """Add one note to the tally. places: where other words were read than annotated (`heard.places`)."""
    matched = match_reps(note, reading, places)
    tally.true["rep"] += len(matched)
    tally.gold["rep"] += len(note.reps)
    tally.read["rep"] += len(reading.reps)
    used = set()
    for rep in note.reps:
        index = matched.get(rep.number)
        rows = [r for r in reading.rows if r.rep == index] if index is not None else []
        used.add(index)
        for gold, read in pair_rows(rep.rows, rows):
            _score_row(note, rep.number, gold, read, tally)
    for row in reading.rows:
        if row.rep not in used:
            _score_row(note, 0, None, row, tally)


def _score_row(
    note: AnnotatedNote, number: int, gold: dict[str, Any] | None, read: GradeRow | None, tally: Tally
) -> None:
    where = f"{note.slug} rep {number}"
    for name in LISTS:
        tally.count(name, expected(gold, name) if gold else [], getattr(read, name) if read else [])
    for name in SINGLES:
        g = expected(gold, name) if gold else None
        r = getattr(read, name) if read else None
        tally.count(name, [g] if g is not None else [], [r] if r is not None else [])
    if gold is not None and read is not None:
        _score_pair(where, gold, read, tally)
        return
    tally.mark("hands-off", False)
    if read is not None:
        tally.calibration.append((read.confidence, False))
        tally.misses.append(f"{where}: extra row {read.player} {read.verdict}")
    if gold is not None:
        tally.misses.append(f"{where}: no row for {gold.get('player')} {gold.get('verdict')}")
        for name in ("verdict", "player", "phase", "down and distance"):
            tally.mark(name, False)


def _score_pair(where: str, gold: dict[str, Any], read: GradeRow, tally: Tally) -> None:
    for name in ("verdict", "player", "phase"):
        tally.mark(name, expected(gold, name) == getattr(read, name))
    tally.mark(
        "down and distance",
        all(expected(gold, n) == getattr(read, n) for n in ("down", "distance", "goal_to_go")),
    )
    wrong = [n for n in HANDS_OFF if not same(n, expected(gold, n), getattr(read, n))]
    tally.mark("hands-off", not wrong)
    tally.calibration.append((read.confidence, not wrong))
    for name in dict.fromkeys((*HANDS_OFF, *LISTS, *SINGLES)):
        want, got = expected(gold, name), getattr(read, name)
        if name != "position" and not same(name, want, got):
            tally.misses.append(f"{where} {gold.get('player')}: {name} want {want!r} read {got!r}")


def report(tally: Tally) -> list[tuple[str, float]]:
    """The figures by name."""
    shares = ("verdict", "player", "phase", "down and distance", "hands-off")
    fields = ("rep", *LISTS, *SINGLES)
    return [
        ("rep F1", tally.f1("rep")),
        *((f"{n}", tally.share(n)) for n in shares),
        *((f"{n} F1", tally.f1(n)) for n in fields if n != "rep"),
        ("calibration error", tally.calibration_error()),
    ]
