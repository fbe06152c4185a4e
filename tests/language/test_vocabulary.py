"""The shipped vocabulary holds every canonical term, and each of its forms can be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from reviewer.errors import InputError
from reviewer.language.patterns import FormIndex, Line, parse_form
from reviewer.language.tokens import base_form
from reviewer.language.vocabulary import load_vocabulary, word_classes

# ruff: noqa: E501
CANONICAL = {
    "concepts": "inside zone,mid zone,outside zone,split zone,duo,power,counter,trap,iso,draw,toss,sweep,pin and pull,"
    "sneak,wham,dropback,quick game,play action,screen,bootleg,sprint out,run-pass option,slide protection,"
    "man protection,max protect",
    "alignment": "0,1,2i,2,3,4i,4,5,6,7,8,9,wide 5,wide 9",
    "set": "vertical,45-degree,jump,quick",
    "techniques": "reach,down block,drive block,combo,climb,pull,kick out,log,scoop,cut off,seal,hinge,fan,pass off,"
    "cut block,chip,crack,release,punch,inside hands,independent hands,hand reset,hand trap,snatch,flash,kick slide,"
    "post step,anchor,mirror,pad level,knee bend,base,drive,recovery,processing,mix-up,strain",
    "faults": "overset,underset,lunge,waist bend,high pads,wide hands,late hands,feet stop,false step,opened hips,"
    "whiff,late off the ball,narrow base,soft edge,lost inside,missed assignment,no finish,off balance",
    "moves": "speed rush,bull rush,long arm,swim,rip,club,chop,cross chop,swipe,spin,ghost,push-pull,inside counter,"
    "stutter",
    "games": "T-E stunt,E-T stunt,stunt,twist,loop,blitz,slant,delayed blitz,simulated pressure",
    "events": "knockdown,key block,pressure,hurry,quarterback hit,sack,tackle for loss,holding,false start",
    "safety": "head contact,injury",
    "labels": "teach,highlight",
}  # fmt: skip
"""The trade's terms as the grade row holds them (common practice, no source)."""


@pytest.mark.parametrize("group", CANONICAL)
def test_every_canonical_term_is_there(group: str) -> None:
    shipped = {t.id: t for t in load_vocabulary(Path("none")).group(group)}
    for name in CANONICAL[group].split(","):
        assert name in shipped, name
        assert shipped[name].definition, f"{name} has no definition"
        assert shipped[name].forms, f"{name} has no spoken form"
    assert set(shipped) == set(CANONICAL[group].split(","))


def test_every_shipped_form_can_be_used() -> None:
    for term in load_vocabulary(Path("none")).terms:
        for form in term.forms:
            assert parse_form(form, word_classes()).needed, f"{term.id}: {form}"


def matches(form: str, text: str) -> bool:
    index: FormIndex[str] = FormIndex(word_classes())
    index.add("it", form)
    words = text.split()
    return any(True for _ in index.find(Line.of([base_form(w) for w in words], words)))


@pytest.mark.parametrize(
    ("form", "text", "found"),
    [
        ("swim", "he swam inside", True), ("=swim", "he swam inside", False), ("bring <poss> arm over", "brings his arm over", True),
        ("run * foot", "runs and runs his feet", True), ("run * foot", "runs one two three four feet", False),
        ("get|got beat inside?", "gets beat", True), ("<man> swim", "the end swims", True), ("hands inside", "inside hands", False),
        ("¶ win", "win", True), ("win ¶", "a win today", False),
    ],
)  # fmt: skip
def test_patterns(form: str, text: str, found: bool) -> None:
    assert matches(form, text) is found


def test_own_words_add_without_touching_ours(tmp_path: Path) -> None:
    own = tmp_path / "vocabulary.toml"
    own.write_text('[[term]]\nid = "swim"\ngroup = "moves"\nforms = ["windmill"]\n', "utf-8")
    term = load_vocabulary(own).find("swim", "moves")
    shipped = load_vocabulary(Path("none")).find("swim", "moves")
    assert term is not None and shipped is not None
    assert set(term.forms) == {*shipped.forms, "windmill"} and "windmill" not in shipped.forms


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("[[term]\n", "cannot be read"), ('[[term]]\nid = "x"\n', "group"), ("term = 3\n", "[[term]]"),
        ('[[term]]\nid = "x"\ngroup = "moves"\nforms = "swim"\n', "list of texts"),
        ('[[term]]\nid = "x"\ngroup = "moves"\nforms = ["<nobody> swims"]\n', "unknown"),
        ('[[term]]\nid = "x"\ngroup = "moves"\nforms = ["*"]\n', "cannot be used"),
    ],
)  # fmt: skip
def test_a_broken_own_file_is_told_in_one_sentence(tmp_path: Path, content: str, says: str) -> None:
    own = tmp_path / "vocabulary.toml"
    own.write_text(content, "utf-8")
    with pytest.raises(InputError) as problem:
        load_vocabulary(own)
    assert says in str(problem.value) and str(own) in str(problem.value)
