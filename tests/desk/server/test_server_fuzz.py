"""Thousands of decisions and of broken requests: the job file is readable and equal to the state after each.

`LIMNER_DECISIONS` and `LIMNER_REQUESTS` set how many; the long run is 2000 and 500.
"""

import os
import random
import tomllib
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from helpers_desk import open_client
from helpers_job import CONTRACT_JOB, write_job

DECISIONS = int(os.environ.get("LIMNER_DECISIONS", "150"))
REQUESTS = int(os.environ.get("LIMNER_REQUESTS", "500"))

LIKE = '\n[[sticker]]\nname = "small"\nlike = "crab"\nwidth = "20 mm"\n'

LENGTHS = ["1 mm", "2.5 mm", 3, "wide", "-4 mm", "99999 mm", "", None, "10 pt"]
COLOURS = ["kelp", "sand", "#112233", "krill", "<b>", 7, "ink"]
POINTS = [[0.4, 0.3], [0.1, 0.9], [1.5, 0.2], [0.2], "x", [[0.1, 0.1], [0.2, 0.3]]]
NAMES = ["shell", "claw", "a b", "crab", "", "\N{CRAB}", "x" * 80, "cut"]


def some_edit(rng: random.Random) -> dict[str, Any]:
    sticker = ["sticker", rng.choice(["crab", "crab", "small", "whelk", 0, 1, 7])]
    area = [*sticker, "area", rng.randrange(4)]
    makers = [
        lambda: ("set", [*sticker, rng.choice(["width", "smoothing"])], rng.choice(LENGTHS)),
        lambda: ("set", [*sticker, "name"], rng.choice(NAMES)),
        lambda: ("set", [*sticker, "cut", rng.choice(["distance", "corner", "form"])], rng.choice(LENGTHS)),
        lambda: ("set", [*area, "fill"], rng.choice(COLOURS)),
        lambda: ("set", [*area, rng.choice(["name", "order", "skip"])], rng.choice([*NAMES, 3, True])),
        lambda: ("set", ["sheet", rng.choice(["background", "size", "bleed", "tide"])], rng.choice(COLOURS)),
        lambda: (
            "set",
            ["colours", rng.choice(NAMES) or "new"],
            rng.choice(["#aabbcc", {"cmyk": [1, 2, 3, 4]}]),
        ),
        lambda: ("unset", [*area, rng.choice(["fill", "name", "at"])], None),
        lambda: ("unset", [*sticker, rng.choice(["cut", "smoothing", "width", "mirror"])], None),
        lambda: ("add", [*sticker, "area"], {"at": rng.choice(POINTS), "name": rng.choice(NAMES)}),
        lambda: (
            "add",
            [*sticker, "touch"],
            {rng.choice(["draw", "rub"]): [[0.1, 0.1], [rng.random(), 0.5]]},
        ),
        lambda: ("add", ["sticker"], {"name": rng.choice(NAMES), "sketch": "crab.jpg", "width": 20}),
        lambda: ("add", ["lettering"], {"text": rng.choice(NAMES), "size": "9 pt", "at": [10, 10]}),
        lambda: ("remove", area, None),
        lambda: ("remove", [*sticker, "touch", rng.randrange(3)], None),
        lambda: ("remove", ["lettering", rng.randrange(3)], None),
        lambda: ("remove", sticker if rng.random() < 0.1 else ["sticker", 9], None),
    ]
    what, where, to = rng.choice(makers)()
    edit = {"what": what, "where": where}
    return edit if to is None else {**edit, "to": to}


def own(document: dict[str, Any], written: dict[str, Any]) -> dict[str, Any]:
    """Without what a sticker shows of another one, too."""
    stickers = [
        {key: value for key, value in shown.items() if "like" not in shown or (key in own and key != "area")}
        for shown, own in zip(document.get("sticker", []), written.get("sticker", []), strict=True)
    ]
    return {**document, "sticker": stickers}


def check(client: TestClient, job: Path) -> dict[str, Any]:
    state = client.get("/state").json()
    said = tomllib.loads(job.read_text(encoding="utf-8"))
    assert own(said, said) == own(state["document"], said)
    assert state["problems"] == []
    return state


def test_decisions_of_every_kind_leave_a_whole_job(tmp_path: Path) -> None:
    rng = random.Random(15)
    job = write_job(tmp_path, CONTRACT_JOB + LIKE)
    taken, refused = 0, 0
    with open_client(job) as client:
        state = check(client, job)
        for _ in range(DECISIONS):
            revision = state["revision"] if rng.random() < 0.95 else state["revision"] - 1
            door = rng.choices(["/edits", "/undo", "/redo"], [8, 1, 1])[0]
            edits = [some_edit(rng) for _ in range(rng.choice([1, 1, 1, 2, 3]))]
            said = {"revision": revision, "words": "Fuzz", "edits": edits}
            before = job.read_bytes()
            answer = client.post(door, json=said if door == "/edits" else {"revision": revision})
            assert answer.status_code in (200, 409, 422), answer.text
            if answer.status_code == 200:
                taken += 1
                assert answer.json()["revision"] >= revision
            else:
                refused += 1
                assert job.read_bytes() == before
                assert answer.json()["sentence"].strip()
            state = check(client, job)
    # Both kinds come often enough to count.
    assert min(taken, refused) > DECISIONS // 6


def broken_request(rng: random.Random) -> dict[str, Any]:
    """A request that is wrong in one way or another."""
    address = rng.choice(["/edits", "/undo", "/redo", "/try", "/sketches", "/write", "/demo", "/state", "/x"])
    junk = bytes(rng.randrange(256) for _ in range(rng.randrange(60)))
    deep = b"[" * 3000
    body = rng.choice(
        [
            junk,
            deep,
            b'{"a":' * 2000,
            b"{}",
            b"[]",
            b"null",
            b'"x"',
            b'{"revision": "1", "edits": []}',
            b'{"revision": true}',
            b'{"revision": 1e999}',
            b'{"revision": NaN}',
            b'{"revision": 1, "words": 7, "edits": [{}]}',
            b'{"revision": 1, "words": "\\ud800", "edits": [{"what":"set","where":["\\ud800"],"to":1}]}',
            b'{"revision": 1, "words": "x", "edits": [{"what":"set","where":["sheet","size"],"to":1e999}]}',
            b'{"revision": 1, "words": "x", "edits": [{"what":"set","where":["__class__"],"to":{}}]}',
            b'{"sticker": "crab", "edits": [{"what":"set","where":["sheet"],"to":'
            + b"[" * 500
            + b"]" * 500
            + b"}]}",
            b'{"sticker": {}, "serial": [], "edits": {}}',
            b'{"revision": 99999999999999999999999999}',
        ]
    )
    headers = {
        "Content-Type": rng.choice(
            [
                "application/json",
                "application/json",
                "text/plain",
                "",
                b"\xff",
            ]
        )
    }
    if rng.random() < 0.2:
        headers["X-Name"] = rng.choice(["%", "%ff%fe", "a" * 3000, "%00", "../x"])
    if rng.random() < 0.1:
        headers["Content-Length"] = rng.choice(["-1", "x", "99999999999"])
    return {
        "method": rng.choice(["POST", "POST", "POST", "GET", "PUT", "DELETE", "PATCH", "BREW"]),
        "url": address,
        "content": body,
        "headers": headers,
    }


def test_broken_requests_are_answered_in_a_sentence(tmp_path: Path) -> None:
    rng = random.Random(16)
    job = write_job(tmp_path, CONTRACT_JOB)
    before = job.read_bytes()
    with open_client(job) as client:
        for _ in range(REQUESTS):
            request = broken_request(rng)
            answer = client.request(**request)
            if answer.status_code not in (200, 202, 204):
                assert 400 <= answer.status_code < 500, (request, answer.text)
                assert answer.json()["sentence"].strip()
        check(client, job)
    assert job.read_bytes() == before
