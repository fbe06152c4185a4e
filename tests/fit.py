"""Learn the reading weights from the development notes: `python -m tests.fit [--cv]`.

Never opens the test part. `--cv` reports a cross-validation over the development notes instead (each
note read with weights that never saw it). The calibration of `confidence` is learned from the notes of
tests/notes/calibration, from which nothing else is learned.
"""

from __future__ import annotations

import argparse
import json
import random
import tempfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from reviewer.language import judge as judging
from reviewer.language.analysis import Analysis, analyse
from reviewer.language.draft import draft_reps
from reviewer.language.opponents import CARRIED
from reviewer.language.read import Reader
from reviewer.language.rows import MORE_EXACT, TERM_LISTS, confidence_features, taken_terms, verdict_features
from reviewer.language.split import LABELS, Cut, sentence_chain
from reviewer.language.split_features import sentence_features
from tests.annotated import AnnotatedNote, load_part
from tests.heardlike import as_heard, digressions, with_digressions
from tests.score import HANDS_OFF, Tally, expected, match_reps, pair_rows, report, same, score_note

FOLDS = 4
OWN_WEIGHT = 0.35
FORBIDDEN = -1e4


def gold_labels(note: AnnotatedNote, analysis: Analysis) -> tuple[list[str], dict[int, Cut]]:
    """Each sentence's label, and the annotated reps as cuts by number."""
    block_of = {w: k for k, (_, first, last) in enumerate(note.blocks) for w in range(first, last)}
    labels: list[str] = []
    sentences: dict[int, list[int]] = defaultdict(list)
    backs: dict[int, list[int]] = defaultdict(list)
    current = None
    for k, sentence in enumerate(analysis.text.sentences):
        rep = note.blocks[block_of[analysis.text.tokens[sentence.first].word]][0]
        if rep is None:
            labels.append("O")
        elif rep not in sentences:
            labels.append("B")
            sentences[rep].append(k)
            current = rep
        elif rep == current:
            labels.append("I")
            sentences[rep].append(k)
        else:
            labels.append("A")
            backs[rep].append(k)
    return labels, {n: Cut(tuple(s), tuple(backs[n])) for n, s in sentences.items()}


def fit_logistic(
    samples: Sequence[tuple[Mapping[str, float], str]], labels: Sequence[str], l2: float
) -> dict[str, Any]:
    """Multinomial logistic regression with an L2 penalty; features seen once are left out."""
    seen: dict[str, int] = defaultdict(int)
    for features, _ in samples:
        for name in features:
            seen[name] += 1
    names = sorted(n for n, c in seen.items() if c >= 2)
    index = {n: k for k, n in enumerate(names)}
    x = np.zeros((len(samples), len(names) + 1))
    x[:, -1] = 1
    rare = {n for n in names if "|" in n}  # a single term's own weight is held back: few notes name it
    for row, (features, _) in enumerate(samples):
        for name, value in features.items():
            if name in index:
                x[row, index[name]] = value * (OWN_WEIGHT if name in rare else 1.0)
    y = np.zeros((len(samples), len(labels)))
    for row, (_, label) in enumerate(samples):
        y[row, labels.index(label)] = 1

    def loss(flat: np.ndarray) -> tuple[float, np.ndarray]:
        w = flat.reshape(len(names) + 1, len(labels))
        z = x @ w
        z -= z.max(axis=1, keepdims=True)
        p = np.exp(z)
        p /= p.sum(axis=1, keepdims=True)
        penalty = w.copy()
        penalty[-1] = 0
        value = -np.sum(y * np.log(p + 1e-12)) + l2 / 2 * np.sum(penalty**2)
        return value, (x.T @ (p - y) + l2 * penalty).ravel()

    best = minimize(
        loss, np.zeros((len(names) + 1) * len(labels)), jac=True, method="L-BFGS-B", options={"maxiter": 400}
    )
    w = best.x.reshape(len(names) + 1, len(labels))
    weights = {
        label: {
            n: round(float(w[k, c]) * (OWN_WEIGHT if n in rare else 1.0), 4)
            for n, k in {**index, "": len(names)}.items()
            if abs(w[k, c]) > 1e-3
        }
        for c, label in enumerate(labels)
    }
    return {"labels": list(labels), "weights": weights}


def fit_chain(notes: Sequence[tuple[list[list[str]], list[str]]], l2: float) -> dict[str, Any]:
    """The sentence chain's weights by maximum likelihood, all notes side by side (padded)."""
    seen: dict[str, int] = defaultdict(int)
    for features, _ in notes:
        for names in features:
            for name in names:
                seen[name] += 1
    names = sorted(n for n, c in seen.items() if c >= 3)
    index = {n: k for k, n in enumerate(names)}
    f, c, n, longest = len(names), len(LABELS), len(notes), max(len(labels) for _, labels in notes)
    x = np.zeros((n, longest, f))
    path = np.zeros((n, longest), dtype=int)
    real = np.zeros((n, longest), dtype=bool)
    for row, (features, labels) in enumerate(notes):
        real[row, : len(labels)] = True
        path[row, : len(labels)] = [LABELS.index(label) for label in labels]
        for k, sentence in enumerate(features):
            x[row, k, [index[name] for name in sentence if name in index]] = 1
    flat_x = x.reshape(n * longest, f)
    gold = np.zeros((n, longest, c))
    np.put_along_axis(gold, path[:, :, None], 1.0, axis=2)
    gold *= real[:, :, None]
    pairs_real = real[:, 1:]
    gold_pairs = np.einsum(
        "nkab,nk->ab", gold[:, :-1, :, None] * gold[:, 1:, None, :], pairs_real.astype(float)
    )
    lengths = real.sum(axis=1)

    def lse(values: np.ndarray, axis: int) -> np.ndarray:
        top = values.max(axis=axis, keepdims=True)
        return np.squeeze(top, axis) + np.log(np.exp(values - top).sum(axis=axis))

    def loss(flat: np.ndarray) -> tuple[float, np.ndarray]:
        state, move, start = (
            flat[: f * c].reshape(f, c),
            flat[f * c : f * c + c * c].reshape(c, c),
            flat[f * c + c * c :],
        )
        unary = (flat_x @ state).reshape(n, longest, c)
        forward, backward = np.zeros_like(unary), np.zeros_like(unary)
        forward[:, 0] = start + unary[:, 0]
        for k in range(1, longest):
            step = lse(forward[:, k - 1, :, None] + move, 1) + unary[:, k]
            forward[:, k] = np.where(real[:, k, None], step, forward[:, k - 1])
        total = lse(forward[:, -1], 1)
        for k in range(longest - 2, -1, -1):
            step = lse(move + (unary[:, k + 1] + backward[:, k + 1])[:, None, :], 2)
            backward[:, k] = np.where(real[:, k + 1, None], step, 0.0)
        marginal = np.exp(forward + backward - total[:, None, None]) * real[:, :, None]
        between = forward[:, :-1, :, None] + move + (unary[:, 1:] + backward[:, 1:])[:, :, None, :]
        pairs = np.exp(between - total[:, None, None, None]) * pairs_real[:, :, None, None]
        value = total.sum() - (gold * unary).sum() - (gold_pairs * move).sum() - (gold[:, 0] * start).sum()
        value += l2 / 2 * float(flat @ flat)
        difference = (marginal - gold).reshape(n * longest, c)
        gradient = np.concatenate(
            [
                (flat_x.T @ difference).ravel(),
                (pairs.sum(axis=(0, 1)) - gold_pairs).ravel(),
                (marginal[:, 0] - gold[:, 0]).sum(axis=0),
            ]
        )
        return float(value), gradient + l2 * flat

    assert lengths.min() > 0
    best = minimize(loss, np.zeros(f * c + c * c + c), jac=True, method="L-BFGS-B", options={"maxiter": 120})
    state, move, start = (
        best.x[: f * c].reshape(f, c),
        best.x[f * c : f * c + c * c].reshape(c, c),
        best.x[f * c + c * c :],
    )
    return {
        "labels": list(LABELS), "features": names, "state": np.round(state, 4).tolist(),
        "move": np.round(move, 4).tolist(), "start": np.round(start, 4).tolist(),
    }  # fmt: skip


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


def _on(features: Sequence[str]) -> dict[str, float]:
    return dict.fromkeys(features, 1.0)


Prepared = tuple[AnnotatedNote, Analysis, list[str], dict[int, Cut]]


def prepare(
    reader: Reader, paced: bool, heard: tuple[float, float] | None = None, digressed: bool = False
) -> list[Prepared]:
    """Analyse every development note once."""
    out = []
    notes = load_part("dev", paced)
    pool = digressions(notes)
    for note in notes:
        note = with_digressions(note, pool) if digressed else note
        note = as_heard(note, *heard) if heard else note
        analysis = analyse(note.words, note.context, reader.tagger)
        out.append((note, analysis, *gold_labels(note, analysis)))
    return out


LOST = frozenset({"verdict", "praise", "blame", "mixed", "events", "faults", "techniques", "moves"})
LOST_SHARE = 0.2


def with_lost_forms(prepared: Sequence[Prepared], seed: int = 1) -> list[Prepared]:
    """The same notes with a share of what was found in them lost: the vocabulary has seen these notes,
    and other speakers will say things that it has not."""
    chance = random.Random(seed)
    out = []
    for note, analysis, labels, cuts in prepared:
        kept = [s for s in analysis.spans if s.group not in LOST or chance.random() >= LOST_SHARE]
        found: dict[int, list[Any]] = defaultdict(list)
        for span in kept:
            found[span.sentence].append(span)
        out.append((note, replace(analysis, spans=kept, spans_in=found), labels, cuts))
    return out


def fit_all(parts: Sequence[Sequence[Prepared]], folder: Path) -> None:
    """Fit every model on these notes and write its weights into `folder`.

    The chain learns from every way the notes were written down, and twice from those without pauses;
    the judges from the exact words and from those as a machine writes them.
    """
    chain = fit_chain(
        [(sentence_features(a), labels) for part in (*parts, parts[1]) for _, a, labels, _ in part], l2=5.0
    )
    _write(folder, "split", chain)
    terms: list[tuple[dict[str, float], str]] = []
    opponents: list[tuple[dict[str, float], str]] = []
    rows: list[tuple[dict[str, float], str]] = []
    drafts = []
    for note, analysis, _, cuts in (*parts[0], *with_lost_forms(parts[0]), *parts[2], *parts[3]):
        for rep, gold in zip(draft_reps(analysis, list(cuts.values())), note.reps, strict=True):
            by_man = {expected(r, "player"): r for r in gold.rows}
            for row in rep.rows:
                wanted = by_man.get(row.man)
                if not row.default and row.man is not None:
                    rows.append((_on(row.features), _yes(wanted is not None)))
                if wanted is None:
                    continue
                drafts.append((analysis, row, wanted))
                for c in row.candidates:
                    value = expected(wanted, c.span.group) if c.span.group != "phase" else wanted.get("phase")
                    right = c.span.id in value if isinstance(value, list) else c.span.id == value
                    if (
                        not right
                        and isinstance(value, list)
                        and MORE_EXACT.get(c.span.id, set()) & set(value)
                    ):
                        continue  # said, but a more exact name of it stands in the row
                    terms.append((_on(c.features), _yes(right)))
                for o in row.opponents:
                    if CARRIED in o.features:
                        continue
                    opponents.append((_on(o.features), _yes(o.jersey in expected(wanted, "opponents"))))
    _write(folder, "term", fit_logistic(terms, ("yes", "no"), l2=5.0))
    _write(folder, "opponent", fit_logistic(opponents, ("yes", "no"), l2=5.0))
    _write(folder, "row", fit_logistic(rows, ("yes", "no"), l2=5.0))
    with judging.weights_from(folder):
        verdicts = []
        for analysis, row, wanted in drafts:
            lists = {g: taken_terms(row, g) for g in TERM_LISTS}
            verdicts.append((verdict_features(analysis, row, lists), wanted["verdict"]))
    _write(folder, "verdict", fit_logistic(verdicts, ("win", "loss", "neutral"), l2=10.0))
    _write(folder, "confidence", {"labels": ["yes", "no"], "weights": {"yes": {"": 1.0}, "no": {}}})


def _write(folder: Path, name: str, data: Any) -> None:
    (folder / f"{name}.json").write_text(
        json.dumps(data, separators=(",", ":"), sort_keys=True) + "\n", "utf-8"
    )


def cross_validate(reader: Reader, parts: Sequence[Sequence[Prepared]]) -> list[Tally]:
    """Held-out readings of every development note, one tally a part."""
    tallies = [Tally() for _ in parts]
    paced = parts[0]
    for fold in range(FOLDS):
        inside = [k for k in range(len(paced)) if k % FOLDS != fold]
        outside = [k for k in range(len(paced)) if k % FOLDS == fold]
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            fit_all([[part[k] for k in inside] for part in parts], folder)
            with judging.weights_from(folder):
                for k in outside:
                    for tally, part in zip(tallies, parts, strict=True):
                        note = part[k][0]
                        reading = reader.read(note.words, note.context)
                        score_note(note, reading, tally)
                        if part is paced:
                            tally.misses += label_misses(part[k])
    return tallies


def label_misses(prepared: Prepared) -> list[str]:
    """Sentences whose label differs, where it moves a rep."""
    note, analysis, labels, _ = prepared
    read, _ = sentence_chain().decode(sentence_features(analysis))
    out = []
    for k, (want, got) in enumerate(zip(labels, read, strict=True)):
        if want != got:
            s = analysis.text.sentences[k]
            words = " ".join(t.text for t in analysis.text.tokens[s.first : s.last])
            out.append(
                f"{note.slug} LABEL want {want} read {got}: {words[:90]} {sentence_features(analysis)[k]}"
            )
    return out


def confidence_samples(note: AnnotatedNote, reading: Any) -> list[tuple[dict[str, float], str]]:
    """Each read row's confidence features, and whether it needs no fix."""
    samples = []
    matched = {index: number for number, index in match_reps(note, reading).items()}
    gold = {rep.number: rep.rows for rep in note.reps}
    by_rep: dict[int, list[Any]] = defaultdict(list)
    for row in reading.rows:
        by_rep[row.rep].append(row)
    for index, rows in by_rep.items():
        for wanted, read in pair_rows(gold.get(matched.get(index, -1), ()), rows):
            if read is not None:
                right = wanted is not None and all(
                    same(n, expected(wanted, n), getattr(read, n)) for n in HANDS_OFF
                )
                samples.append((confidence_features(read), _yes(right)))
    return samples


def calibration_samples(reader: Reader) -> list[tuple[dict[str, float], str]]:
    """Readings of notes that neither the judges nor the vocabulary learned from."""
    samples = []
    for paced in (True, False):
        for note in load_part("calibration", paced):
            samples += confidence_samples(note, reader.read(note.words, note.context))
    return samples


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cv", action="store_true", help="print a cross-validation and write nothing")
    parser.add_argument("--rows", action="store_true", help="with --cv: list every field that differs")
    args = parser.parse_args()
    reader = Reader.load()
    parts = [
        prepare(reader, True),
        prepare(reader, False),
        prepare(reader, True, (0.5, 0.0)),
        prepare(reader, True, (0.95, 2.0)),
        prepare(reader, True, digressed=True),
    ]
    if args.cv:
        tallies = cross_validate(reader, parts)
        print(f"{'held out':22}{'paced':>10}{'flat':>10}{'as heard':>10}{'run on':>10}{'digressed':>10}")
        for rows in zip(*(report(t) for t in tallies), strict=True):
            print(f"{rows[0][0]:22}" + "".join(f"{value:10.3f}" for _, value in rows))
        if args.rows:
            print(*tallies[0].misses, sep="\n")
        return
    judging.SHIPPED.mkdir(exist_ok=True)
    fit_all(parts, judging.SHIPPED)
    with judging.weights_from(judging.SHIPPED):
        samples = calibration_samples(reader)
    _write(judging.SHIPPED, "confidence", fit_logistic(samples, ("yes", "no"), l2=2.0))


if __name__ == "__main__":
    main()
