"""What was said of each man where several are graded on one rep."""

from reviewer.records import Evidence, GradeRow, Word
from reviewer.reports.gather import Selection, gather
from reviewer.reports.own_words import own_words


def _words(text):
    return [Word(part, float(n), n + 1.0) for n, part in enumerate(text.split())]


def _row(words, **said):
    """A row whose values are carried by these phrases of the words."""
    plain = [word.text.strip(".,;").lower() for word in words]
    evidence = {}
    for field, phrase in said.items():
        parts = phrase.split()
        first = next(n for n in range(len(plain)) if plain[n : n + len(parts)] == parts)
        evidence[field] = [Evidence(start=first, end=first + len(parts), heard=phrase, read=phrase)]
    return GradeRow(rep=1, start=0, end=99, evidence=evidence)


def _told(text, *said, stretches=None):
    words = _words(text)
    rows = {number: _row(words, **one) for number, one in enumerate(said, 1)}
    return own_words(words, stretches or [(0, len(words))], rows)


def test_each_man_has_his_sentences_and_the_situation():
    text = "First and ten. The guard reaches, that is a win. He finishes. The tackle lunges. Bad rep."
    found = _told(
        text,
        {"down": "first and ten", "player": "guard", "verdict": "that is a win", "finish": "he finishes"},
        {"down": "first and ten", "player": "tackle", "verdict": "bad rep", "faults": "lunges"},
    )
    assert found[1] == "First and ten. The guard reaches, that is a win. He finishes."
    assert found[2] == "First and ten. … The tackle lunges. Bad rep."


def test_one_sentence_of_two_men_is_cut_at_the_comma():
    found = _told(
        "The guard is okay, the tackle is great.",
        {"player": "guard", "verdict": "okay"},
        {"player": "tackle", "verdict": "great"},
    )
    assert found == {1: "The guard is okay,", 2: "the tackle is great."}


def test_talk_without_stops_is_cut_where_the_man_changes():
    found = _told(
        "first and ten seventy four reaches good seventy eight lunges bad",
        {"down": "first and ten", "player": "seventy four", "verdict": "good"},
        {"player": "seventy eight", "verdict": "bad"},
    )
    assert found[1] == "first and ten seventy four reaches good"
    assert found[2] == "first and ten … seventy eight lunges bad"


def test_what_is_said_of_both_is_both_mens():
    found = _told(
        "The guard and the tackle pass it off. The tackle is late.",
        {"player": "guard", "techniques": "pass it off"},
        {"player": "tackle", "techniques": "pass it off", "faults": "late"},
    )
    assert "pass it off" in found[1] and "pass it off" in found[2]
    assert "late" not in found[1]


def test_a_row_that_no_words_carry_keeps_all_of_them():
    text = "First and ten. The guard wins."
    found = _told(text, {"player": "guard", "verdict": "wins"}, {"down": "first and ten"})
    assert found[2] == text


def test_one_row_has_the_whole_talk_over_a_later_remark():
    text = "The guard wins. Next rep. Go back, his hands were late."
    found = _told(text, {"player": "guard"}, stretches=[(0, 3), (5, 11)])
    assert found == {1: "The guard wins. Go back, his hands were late."}


def test_on_the_sample_season_no_sheet_tells_of_another_man(season):
    names = {
        "74": "seventy-four",
        "78": "seventy-eight",
        "66": "sixty-six",
        "63": "sixty-three",
        "55": "fifty-five",
    }
    reps = gather(season, Selection())
    assert len(reps) == 800
    for rep in reps:
        others = [name for jersey, name in names.items() if jersey != rep.row.player]
        assert not [name for name in others if name in rep.words.lower()], rep.words
        assert names[rep.row.player] in rep.words.lower()
