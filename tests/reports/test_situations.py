"""Distances and situations as typed."""

import pytest

from reviewer.errors import InputError
from reviewer.reports.situations import distance_text, find_situation, read_distance


@pytest.mark.parametrize(
    ("typed", "yards"),
    # what long and short are: common practice, no source
    [
        ("7", (7, 7)), ("7-10", (7, 10)), ("7 – 10", (7, 10)), ("7 to 10", (7, 10)), ("7+", (7, 99)),
        ("Long", (7, 99)), ("medium", (4, 6)), ("short", (1, 3)), ("0", (0, 0)),
    ],
)  # fmt: skip
def test_distances_as_people_write_them(typed, yards):
    assert read_distance(typed) == yards
    assert read_distance(distance_text(yards)) == yards


@pytest.mark.parametrize("typed", ["", "10-7", "-3", "seven", "100", "7-", "+7", "²", "1e1"])
def test_what_is_no_distance_is_a_sentence(typed):
    with pytest.raises(InputError, match="A distance is yards to gain such as 7, 7-10 or 7"):
        read_distance(typed)


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("third and long", (3, (7, 99), "long")),
        ("bull rush 2nd and 10 loss", (2, (10, 10), "")),
        ("fourth and one", (4, (1, 1), "")),
        ("third and goal", None),
        ("long third", None),
        ("third and", None),
    ],
)
def test_situations_in_typed_words(typed, found):
    read = find_situation(typed.split())
    assert (read and (read.down, read.yards, read.named)) == found
