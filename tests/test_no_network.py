"""Nothing leaves the machine: the whole job works without a network, and does not even look for one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests import offline
from tests.killing.child import done


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The whole job, done once."""
    return dict(done(offline.the_whole_job, tmp_path_factory.mktemp("offline")))


def test_the_whole_job_works(job: dict[str, Any]) -> None:
    for name, (code, text) in job["ran"].items():
        assert code == 0, f"{name}: {text}"
    assert "rows in" in job["ran"]["demo"][1]
    assert job["confirmed"].startswith("Row ")
    assert "[seal" in job["ran"]["search"][1]
    assert set(job["sheets"]) == {"sheet.html", "sheet.pdf", "sheet.xlsx", "sheet.json"}
    assert "Recorded: " in job["ran"]["record"][1]
    assert "74" in job["ran"]["record"][1]
    assert "base" in job["ran"]["model"][1]


def test_no_connection_is_tried(job: dict[str, Any]) -> None:
    assert job["tries"] == []


def test_there_was_no_interface_but_ones_own(job: dict[str, Any]) -> None:
    """Where a network of one's own can be had; elsewhere the closed sockets stand for it."""
    assert not job["alone"] or job["interfaces"] <= {"lo"}


@pytest.mark.parametrize("name", ["small.en", "somebody/some-whisper"])
def test_a_model_to_fetch_is_said_before_a_connection_is_tried(tmp_path: Path, name: str) -> None:
    found = done(offline.a_model_to_fetch, tmp_path, name)
    code, text = found["ran"]
    assert code == 2
    first, last = text.strip().splitlines()
    assert first == (
        f"The speech model {name} is not on this machine: it is fetched from the network, once; "
        "nothing of yours is sent."
    )
    assert last == (
        f"reviewer: the speech model {name} could not be fetched; connect to the network, "
        "or use one that comes along (base, tiny.en)."
    )
    assert found["tries"], "nobody asked the network"
    assert found["said before"].strip() == first


def test_a_model_that_nobody_knows_asks_no_network(tmp_path: Path) -> None:
    found = done(offline.a_model_to_fetch, tmp_path, "no-such-model")
    assert found["ran"][0] == 2
    assert found["ran"][1].startswith("reviewer: no speech model is named no-such-model; ")
    assert found["tries"] == []
