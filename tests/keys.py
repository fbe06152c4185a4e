"""Count the keys of a review: `python -m tests.keys [--notes N] [--plan] [--slow]`.

Each annotated development note is read, stored and reviewed until every row stands as annotated: the
keys of each fix are worked out from what the pick lists show, pressed in the real screen (with --plan
only applied to the session behind it), and checked against the row that results. Reps that were cut
otherwise than annotated are counted apart: their rows cannot be compared.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import statistics
import tempfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reviewer import store
from reviewer.compare.annotated import AnnotatedNote
from reviewer.compare.score import expected, match_reps, pair_rows
from reviewer.records import LIST_FIELDS, Reading
from reviewer.review.offer import picker_for
from reviewer.review.picking import Picker, Taken
from reviewer.review.session import Session
from reviewer.review.slots import SLOTS, Slot, next_value

MOST = {"verdict": 3, "mark": 3, "jersey": 3, "term": 6}
"""The most keys that a fix of each kind may need."""

KINDS = {
    "verdict": "verdict",
    "mark": "mark",
    "man": "jersey",
    "men": "jersey",
    "term": "term",
    "terms": "term",
}
"""Kind of a slot -> kind of fix; others are "other"."""

SEEN = 4
"""A value among so many first lines is gone down to; further down, one more letter is typed."""

Gold = Mapping[str, Any]


@dataclass(frozen=True)
class Fix:
    """The keys of one fix, and what it gives the row (for the session without a screen)."""

    kind: str
    keys: tuple[str, ...]
    slot: Slot
    values: Mapping[str, Any]


@dataclass
class Count:
    """What a review took. fixes: kind to the keys of each. rows: rows that were walked; right: of them
    right as read; other_cuts: annotated reps that were cut otherwise."""

    fixes: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    rows: int = 0
    right: int = 0
    other_cuts: int = 0
    wrong_after: int = 0

    @property
    def keys(self) -> int:
        """All keys: of the fixes, and one a row."""
        return self.rows + sum(sum(keys) for keys in self.fixes.values())


def fixes_of(session: Session, gold: Gold) -> list[Fix]:
    """The fixes that make the row in hand as annotated, in the order of the screen."""
    return [fix for slot in SLOTS for fix in _slot_fixes(session, slot, gold)]


def _slot_fixes(session: Session, slot: Slot, gold: Gold) -> list[Fix]:
    row = session.row
    assert row is not None
    now = {name: getattr(row.current, name) for name in slot.fields}
    want = {name: expected(dict(gold), name) for name in slot.fields}
    if all(_same(name, now[name], want[name]) for name in slot.fields):
        return []
    kind = KINDS.get(slot.kind, "other")
    if slot.kind == "verdict":
        return [Fix(kind, (want["verdict"][0],), slot, want)]
    if slot.kind in {"mark", "cycle"}:
        return [Fix(kind, _cycled(slot, now[slot.field], want[slot.field]), slot, want)]
    if slot.kind == "situation":
        return [Fix(kind, (slot.key, *_situation(want), "enter"), slot, want)]
    picker = picker_for(session, slot)
    if slot.many:
        return _list_fixes(picker, kind, now[slot.field], want[slot.field])
    return [_single_fix(picker, kind, want[slot.field])]


def _same(name: str, now: Any, want: Any) -> bool:
    return set(now) == set(want) if name in LIST_FIELDS else bool(now == want)


def _cycled(slot: Slot, now: Any, want: Any) -> tuple[str, ...]:
    keys: list[str] = []
    while now != want:
        now = next_value(slot, now)
        keys.append(slot.key)
    return tuple(keys)


def _situation(want: Gold) -> tuple[str, ...]:
    if want["down"] is None:
        return ()
    goal = ("g",) if want["goal_to_go"] else ()
    return (str(want["down"]), *("" if want["distance"] is None else str(want["distance"])), *goal)


def _single_fix(picker: Picker, kind: str, want: Any) -> Fix:
    slot = picker.slot
    if want is None:
        return Fix(kind, (slot.key, "delete"), slot, {slot.field: None})
    keys, taken = _taken(picker, str(want))
    assert taken.values == {slot.field: want}
    return Fix(kind, (slot.key, *keys), slot, taken.values)


def _taken(picker: Picker, want: str) -> tuple[tuple[str, ...], Taken]:
    """The fewest keys that take a value from an open list: the first letters of its name, or of its
    words, until it comes to the top; else down to it."""
    tries = [want.lower(), "".join(word[0] for word in want.lower().replace("-", " ").split())]
    found = [keys for text in tries if (keys := _typed(picker, text, want)) is not None]
    if found:
        keys = min(found, key=len)
        taken: Taken | None = None
        for key in keys:
            if key == "enter":
                taken = picker.take()
            elif key == "down":
                picker.move(1)
            else:
                taken = picker.type(picker.typed + _letter(key))
        assert taken is not None
        return keys, taken
    keys_down: list[str] = []
    while picker.marked is not None and picker.marked.value != want:
        at = picker.index
        picker.move(1)
        keys_down.append("down")
        assert picker.index != at, f"{want} is not in the list"
    return (*keys_down, "enter"), picker.take()


def _typed(picker: Picker, text: str, want: str) -> tuple[str, ...] | None:
    """The fewest keys that type a text until a value takes itself, or is seen among the first lines and
    gone down to; None when it never is."""
    trial = Picker(picker.slot, picker.entries, picker.held, picker.numbers, picker.replacing, picker.victim)
    keys: list[str] = []
    found: list[tuple[str, ...]] = []
    for letter in ("", *text):
        if letter:
            keys.append(_key(letter))
            if trial.type(trial.typed + letter) is not None:
                found.append(tuple(keys))
                break
        seen = [choice.value for choice in trial.choices[:SEEN]]
        if want in seen:
            found.append((*keys, *("down",) * seen.index(want), "enter"))
    return min(found, key=len) if found else None


_LETTERS = {" ": "space", "-": "minus"}


def _key(letter: str) -> str:
    return _LETTERS.get(letter, letter)


def _letter(key: str) -> str:
    return next((letter for letter, name in _LETTERS.items() if name == key), key)


def _list_fixes(picker: Picker, kind: str, now: Sequence[str], want: Sequence[str]) -> list[Fix]:
    """One fix for each value that is wrong, missing, or in the place of another."""
    gone = [one for one in now if one not in want]
    missing = [one for one in want if one not in now]
    fixes: list[Fix] = []
    slot = picker.slot
    for place in range(max(len(gone), len(missing))):
        old = gone[place] if place < len(gone) else None
        new = missing[place] if place < len(missing) else None
        picker = Picker(slot, picker.entries, picker.held, picker.numbers)
        if picker.numbers:
            keys, values = _number_fix(picker, old, new)
        else:
            keys, values = _term_fix(picker, old, new)
        fixes.append(Fix(kind, keys, slot, values))
    return fixes


def _number_fix(
    picker: Picker, old: str | None, new: str | None
) -> tuple[tuple[str, ...], Mapping[str, Any]]:
    if old is None or new is None:
        keys, taken = _taken(picker, new or old or "")
        return (picker.slot.key, *keys), taken.values
    # in the place of another one: the key for that, and tab where it is not the one that gives way
    picker.replacing = True
    tabs = 0
    while True:
        trial = Picker(picker.slot, picker.entries, picker.held, True, picker.replacing, picker.victim)
        keys, taken = _taken(trial, new)
        if old not in taken.values[picker.slot.field]:
            picker.held = trial.held
            return ("O", *("tab",) * tabs, *keys), taken.values
        picker.flip()
        tabs += 1


def _term_fix(picker: Picker, old: str | None, new: str | None) -> tuple[tuple[str, ...], Mapping[str, Any]]:
    keys = [picker.slot.key]
    values: Mapping[str, Any] = {}
    if old is not None:
        while picker.marked is not None and picker.marked.value != old:
            picker.move(1)
            keys.append("down")
        if new is None:
            return (*keys, "enter"), picker.take().values
        values = picker.remove().values
        keys.append("delete")
    if new is not None:
        more, taken = _taken(picker, new)
        keys += more
        values = taken.values
    return tuple(keys), values


# --- walking through a note --------------------------------------------------


class Walk:
    """The review of one annotated note, until it stands as annotated.

    press: presses keys in the screen; None works on the session alone.
    """

    def __init__(self, session: Session, note: AnnotatedNote, reading: Reading, press: Any = None) -> None:
        self.session = session
        self.press = press
        self.count = Count()
        self.gold: dict[int, Gold | None] = {}
        self.missing: dict[int, list[Gold]] = defaultdict(list)
        self._match(note, reading)

    def _match(self, note: AnnotatedNote, reading: Reading) -> None:
        matched = match_reps(note, reading)
        self.count.other_cuts = len(note.reps) - len(matched)
        # reps without rows are not counted in the grade book: rows are told by their order, not by rep
        stored = {id(read): row for read, row in zip(reading.rows, self.session.rows, strict=True)}
        for rep in note.reps:
            mine = [row for row in reading.rows if row.rep == matched.get(rep.number)]
            if not mine:
                continue
            for gold, read in pair_rows(rep.rows, mine):
                if read is None and gold is not None:
                    self.missing[stored[id(mine[0])].rep_id].append(gold)
                elif read is not None:
                    self.gold[stored[id(read)].id] = gold

    async def go(self) -> Count:
        """Review every row."""
        while (row := self.session.row) is not None and not row.confirmed:
            if row.id not in self.gold:
                await self._confirm()
                continue
            gold = self.gold[row.id]
            if gold is None:
                self.count.fixes["extra row"].append(2)
                await self._do(("R", "d"), lambda: _reps().remove_row(self.session))
                continue
            self.count.rows += 1
            fixes = 0
            while todo := fixes_of(self.session, gold):
                fixes += 1
                self.count.fixes[todo[0].kind].append(len(todo[0].keys))
                await self._fix(todo[0])
                assert fixes < 60, f"no end of fixes in rep {row.current.rep}"
            self.count.right += not fixes
            self.count.wrong_after += bool(fixes_of(self.session, gold))
            await self._add_missing(row.rep_id)
            self.session.go(row.id)
            await self._confirm()
        return self.count

    async def _add_missing(self, rep: int) -> None:
        for gold in self.missing.pop(rep, []):
            player = str(gold["player"])
            self.count.fixes["missing row"].append(2 + len(player) + (len(player) < 2))
            keys = ("R", "a", *player, *(("enter",) if len(player) < 2 else ()))
            await self._do(keys, lambda p=player: _reps().second_player(self.session, p))
            assert self.session.row_id is not None
            self.gold[self.session.row_id] = gold

    async def _fix(self, fix: Fix) -> None:
        await self._do(fix.keys, lambda: self.session.set_slot(fix.slot, fix.values))

    async def _confirm(self) -> None:
        await self._do(("space",), self.session.confirm)

    async def _do(self, keys: Sequence[str], directly: Any) -> None:
        if self.press is None:
            directly()
        else:
            await self.press(*keys)


def _reps() -> Any:
    from reviewer.review import reps

    return reps


async def review(note: AnnotatedNote, reading: Reading, plan: bool) -> Count:
    """Store a reading in a grade book of its own and review it."""
    from tests.screens.evening import add_game

    with store.Library.memory() as library:
        game = add_game(library, note.context.roster, note.context.opponent or "them")
        new = store.NewNote(note.slug, "text", note.words[-1].end, note.context, note.slug, game_id=game)
        number = store.add_note(library, new, reading)
        if plan:
            return await Walk(Session(library, number), note, reading).go()
        from reviewer.screens.review import ReviewApp

        app = ReviewApp(library, number)
        async with app.run_test(size=(120, 40)) as pilot:
            return await Walk(app.session, note, reading, pilot.press).go()


def report(counts: Mapping[str, Count]) -> list[str]:
    """The figures as lines."""
    lines = [f"{'note':<14} rows  right  fixes  keys  keys/row  other cuts"]
    for slug, count in counts.items():
        fixes = sum(map(len, count.fixes.values()))
        lines.append(
            f"{slug:<14} {count.rows:4}  {count.right:5}  {fixes:5}  {count.keys:4}  "
            f"{count.keys / max(1, count.rows):8.1f}  {count.other_cuts:10}"
        )
    lines.append("")
    lines.append(f"{'kind of fix':<14} fixes  median  most  allowed  over")
    every: dict[str, list[int]] = defaultdict(list)
    for count in counts.values():
        for kind, keys in count.fixes.items():
            every[kind] += keys
    for kind, keys in sorted(every.items()):
        most = MOST.get(kind)
        over = sum(k > most for k in keys) if most else 0
        middle = f"{statistics.median(keys):6.1f}"
        lines.append(f"{kind:<14} {len(keys):5}  {middle}  {max(keys):4}  {most or '-':>7}  {over:4}")
    rows = sum(count.rows for count in counts.values())
    right = sum(count.right for count in counts.values())
    keys = [count.keys for count in counts.values()]
    lines.append("")
    lines.append(f"{right} of {rows} rows were right as read: 1 key each.")
    lines.append(f"Keys a note: median {statistics.median(keys):.0f}, most {max(keys)}.")
    return lines


def main() -> None:
    """Review the development notes and print the count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--notes", type=int, help="only the first so many notes")
    parser.add_argument("--plan", action="store_true", help="without the screen: the same keys, not pressed")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        os.environ["REVIEWER_HOME"] = str(Path(home))
        from reviewer.language.read import Reader
        from tests.annotated import load_part

        reader = Reader.load()
        counts: dict[str, Count] = {}
        for note in load_part("dev")[: given.notes]:
            counts[note.slug] = asyncio.run(review(note, reader.read(note.words, note.context), given.plan))
    print("\n".join(report(counts)))
    wrong = sum(count.wrong_after for count in counts.values())
    if wrong:
        raise SystemExit(f"{wrong} rows did not end as annotated.")


if __name__ == "__main__":
    main()
