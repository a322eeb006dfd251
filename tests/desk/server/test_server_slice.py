"""The desk answers its own page: state, drawings, decisions."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from helpers_desk import KEY, PORT, open_client
from helpers_job import write_job


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with open_client(write_job(tmp_path)) as client:
        yield client


def test_a_decision_is_saved_whole_and_undone(client: TestClient, tmp_path: Path) -> None:
    job = tmp_path / "tide-pool.toml"
    before = job.read_text()
    state = client.get("/state").json()
    edits = [{"what": "set", "where": ["sticker", "crab", "width"], "to": "40 mm"}]
    said = {"revision": state["revision"], "words": "Width of crab", "edits": edits}
    answer = client.post("/edits", json=said)
    assert answer.status_code == 200
    assert job.read_text() == before.replace('"38 mm"', '"40 mm"')
    after = client.get("/state").json()
    assert after["undo"] == "Width of crab"
    assert after["document"]["sticker"][0]["width"] == "40 mm"

    older = client.post("/edits", json=said)
    assert (older.status_code, older.json()["revision"]) == (409, answer.json()["revision"])

    undone = client.post("/undo", json={"revision": after["revision"]})
    assert undone.status_code == 200
    assert job.read_text() == before


def test_a_decision_that_spoils_the_job_is_refused(client: TestClient, tmp_path: Path) -> None:
    before = (tmp_path / "tide-pool.toml").read_bytes()
    edits = [{"what": "set", "where": ["sticker", "crab", "ink"], "to": "krap"}]
    answer = client.post("/edits", json={"revision": 1, "words": "Ink", "edits": edits})
    assert answer.status_code == 422
    assert "not in [colours]" in answer.json()["sentence"]
    assert (tmp_path / "tide-pool.toml").read_bytes() == before


def test_only_who_has_the_key_is_answered(client: TestClient) -> None:
    client.cookies.clear()
    assert client.get("/state").status_code == 403
    assert client.get("/", params={"key": "x" * len(KEY)}).status_code == 403
    assert client.get("/", params={"key": KEY}).status_code == 200
    assert client.get("/state").status_code == 200
    assert client.get("/state", headers={"Host": "evil.example"}).status_code == 403
    assert client.get("/state", headers={"Origin": "http://evil.example"}).status_code == 403
    assert client.get("/state", headers={"Host": f"localhost:{PORT}"}).status_code == 200
