"""Measure reading on the annotated notes: `python -m tests.score [--part dev] [--rows] [--flat]`."""

from __future__ import annotations

import argparse

from reviewer.compare.score import (
    HANDS_OFF,
    Tally,
    calibration_error,
    expected,
    match_reps,
    pair_rows,
    report,
    same,
    score_note,
)
from tests.annotated import load_part

__all__ = [
    "HANDS_OFF", "Tally", "calibration_error", "expected", "match_reps", "pair_rows", "report", "same",
    "score_note", "score_part",
]  # fmt: skip


def score_part(part: str, paced: bool = True) -> Tally:
    """Read every note of a part and tally."""
    from reviewer.language.read import Reader

    reader = Reader.load()
    tally = Tally()
    for note in load_part(part, paced):
        score_note(note, reader.read(note.words, note.context), tally)
    return tally


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=["dev", "calibration", "test", "both"], default="both")
    parser.add_argument("--rows", action="store_true", help="list what differs (not of the test part)")
    parser.add_argument("--field", help="with --rows: only this field")
    parser.add_argument("--flat", action="store_true", help="no pauses between blocks")
    args = parser.parse_args()
    parts = ["dev", "test"] if args.part == "both" else [args.part]
    tallies = {part: score_part(part, not args.flat) for part in parts}
    print(f"{'':22}" + "".join(f"{p:>12}" for p in parts))
    for k, (name, _) in enumerate(report(tallies[parts[0]])):
        print(f"{name:22}" + "".join(f"{report(tallies[p])[k][1]:12.3f}" for p in parts))
    counts = (f"{tallies[p].gold['rep']:>6}{tallies[p].total['hands-off']:>6}" for p in parts)
    print(f"{'reps, rows':22}" + "".join(counts))
    shown = tallies.get("dev") or tallies.get("calibration")
    if args.rows and shown:
        for line in shown.misses:
            if not args.field or f": {args.field} want" in line or (args.field == "row" and " row " in line):
                print(line)


if __name__ == "__main__":
    main()
