"""What is asked of the desk at the same time: tries, sheets, files, and pages that follow one another."""

import asyncio
import json
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import httpx2
import pytest

from helpers_desk import KEY, PORT, QuietBench
from helpers_job import CONTRACT_JOB, write_job
from limner.desk.server.app import desk_app
from limner.desk.server.desk import Desk
from limner.desk.server.hub import Hub
from limner.desk.state.document import JobDocument
from limner.desk.work.tasks import DrawTask, Outcome, SheetTask, Task

DRAWN = {"fills": [], "lines": []}


class PatientBench(QuietBench):
    """Does each task when it is told to."""

    def __init__(self) -> None:
        super().__init__()
        self.done: list[Callable[[Outcome | None], None]] = []
        self.kept: list[Callable[[], None]] = []

    def submit(self, slot, task: Task, done, tell=None, kept=None, *, first: bool = False) -> None:
        self.tasks.append(task)
        self.done.append(done)
        self.kept.append(kept or (lambda: None))

    async def asked(self, count: int) -> None:
        for _ in range(500):
            if len(self.tasks) >= count:
                return
            await asyncio.sleep(0.01)
        raise AssertionError(f"{count} tasks were never asked for")


def with_desk(job: Path, use: Callable[[httpx2.AsyncClient, Desk, PatientBench], Awaitable[None]]) -> None:
    async def run() -> None:
        bench = PatientBench()
        desk = Desk(JobDocument(job), bench)  # type: ignore[arg-type]
        desk.hub.begin()
        transport = httpx2.ASGITransport(desk_app(desk, port=PORT, key=KEY))
        base, cookies = f"http://127.0.0.1:{PORT}", {f"desk-{PORT}": KEY}
        try:
            async with httpx2.AsyncClient(transport=transport, base_url=base, cookies=cookies) as client:
                await use(client, desk, bench)
        finally:
            desk.close()

    asyncio.run(run())


def smoothing(text: str) -> dict[str, Any]:
    edits = [{"what": "set", "where": ["sticker", "crab", "smoothing"], "to": text}]
    return {"sticker": "crab", "serial": 1, "edits": edits}


def test_of_several_tries_the_newest_is_answered(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        older = asyncio.create_task(client.post("/try", json=smoothing("0.2 mm")))
        await bench.asked(2)
        newer = asyncio.create_task(client.post("/try", json=smoothing("0.3 mm")))
        await bench.asked(3)
        bench.done[1](Outcome(DRAWN))
        assert (await older).status_code == 204
        bench.done[2](Outcome(DRAWN))
        answer = await newer
        assert answer.status_code == 200
        assert answer.json()["token"] == bench.tasks[2].token
        # Nothing is saved; once it is, the drawing is there already.
        before = desk.document.revision
        assert before == 1
        said = {"revision": 1, "words": "Smoothing", "edits": smoothing("0.3 mm")["edits"]}
        assert (await client.post("/edits", json=said)).status_code == 200
        assert (await client.get("/state")).json()["stickers"][0]["state"] == "ready"
        assert (await client.get("/stickers/crab/drawing")).json() == answer.json()

    with_desk(write_job(tmp_path), use)


def test_many_tries_forget_no_sticker_that_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("limner.desk.server.drawings._MOST_MADE", 4)
    more = '\n[[sticker]]\nname = "whelk"\nsketch = "crab.jpg"\nwidth = 20\n'

    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        for number in range(2):
            bench.done[number](Outcome(DRAWN))
            bench.kept[number]()
        for number in range(8):
            asking = asyncio.create_task(client.post("/try", json=smoothing(f"0.{number + 1} mm")))
            await bench.asked(number + 3)
            bench.done[-1](Outcome(DRAWN))
            assert (await asking).status_code == 200
        assert len(desk.drawings._made) == 4
        assert all(desk.drawings.is_kept(entry.task) for entry in desk.drawings.all())
        # Another colour of a sticker that was drawn long ago asks for no drawing.
        edits = [{"what": "set", "where": ["sticker", "whelk", "ink"], "to": "kelp"}]
        await client.post("/edits", json={"revision": 1, "words": "Ink", "edits": edits})
        assert len(bench.tasks) == 10
        # Stickers stand in the order of the job.
        move = [
            {"what": "remove", "where": ["sticker", "whelk"]},
            {
                "what": "add",
                "where": ["sticker"],
                "at": 0,
                "to": {"name": "whelk", "sketch": "crab.jpg", "width": 20},
            },
        ]
        await client.post("/edits", json={"revision": 2, "words": "Order", "edits": move})
        state = (await client.get("/state")).json()
        assert [one["name"] for one in state["stickers"]] == ["whelk", "crab"]

    with_desk(write_job(tmp_path, CONTRACT_JOB + more), use)


def test_what_cannot_be_tried_says_why(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        wrong = await client.post("/try", json=smoothing("wide"))
        assert (wrong.status_code, len(bench.tasks)) == (422, 1)
        nobody = await client.post("/try", json={"sticker": "whelk", "edits": []})
        assert nobody.status_code == 422
        failing = asyncio.create_task(client.post("/try", json=smoothing("0.2 mm")))
        await bench.asked(2)
        bench.done[1](Outcome(sentence="It is too small."))
        assert (await failing).json() == {"sentence": "It is too small."}

    with_desk(write_job(tmp_path), use)


def test_a_drawing_tells_how_far_it_is(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        waiting = await client.get("/stickers/crab/drawing")
        assert (waiting.status_code, set(waiting.json())) == (202, {"sentence"})
        bench.done[0](Outcome(sentence="The page is blank."))
        failed = await client.get("/stickers/crab/drawing")
        assert (failed.status_code, failed.json()) == (422, {"sentence": "The page is blank."})
        (sticker,) = (await client.get("/state")).json()["stickers"]
        assert (sticker["state"], sticker["sentence"]) == ("failed", "The page is blank.")
        # Another width: it is asked for again, and comes.
        edits = [{"what": "set", "where": ["sticker", "crab", "width"], "to": "30 mm"}]
        await client.post("/edits", json={"revision": 1, "words": "Width", "edits": edits})
        bench.done[1](Outcome(DRAWN, b"picture"))
        drawing = await client.get("/stickers/crab/drawing")
        assert drawing.status_code == 200
        again = await client.get("/stickers/crab/drawing", headers={"If-None-Match": drawing.headers["etag"]})
        assert again.status_code == 304
        assert (await client.get("/stickers/crab/photograph")).content == b"picture"

    with_desk(write_job(tmp_path), use)


def test_the_sheet_is_made_once_for_all_who_ask_and_waits_for_what_is_drawn_anew(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        bench.done[0](Outcome(DRAWN))
        bench.kept[0]()
        both = [asyncio.create_task(client.get("/sheet")) for _ in range(2)]
        await bench.asked(2)
        await asyncio.sleep(0.05)
        sheets = [task for task in bench.tasks if isinstance(task, SheetTask)]
        assert len(sheets) == 1
        bench.done[1](Outcome({"token": sheets[0].token, "stickers": []}))
        assert {(await one).json()["token"] for one in both} == {sheets[0].token}
        assert (await client.get("/state")).json()["sheet"]["token"] == sheets[0].token

        edits = [{"what": "set", "where": ["sticker", "crab", "width"], "to": "30 mm"}]
        await client.post("/edits", json={"revision": 1, "words": "Width", "edits": edits})
        later = asyncio.create_task(client.get("/sheet"))
        await asyncio.sleep(0.1)
        # The sticker is drawn anew: the sheet is not made without it.
        assert isinstance(bench.tasks[-1], DrawTask)
        bench.done[-1](Outcome(DRAWN))
        bench.kept[-1]()
        await bench.asked(4)
        asked = bench.tasks[-1]
        assert isinstance(asked, SheetTask)
        assert asked.ready == ("crab",)
        bench.done[-1](Outcome(sentence="There is no room."))
        answer = await later
        assert (answer.status_code, answer.json()) == (422, {"sentence": "There is no room."})

    with_desk(write_job(tmp_path), use)


def test_sheets_of_a_few_stickers_leave_the_others_their_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("limner.desk.server.sheets._PAUSE_S", 0.5)

    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        async def sheet(count: int) -> SheetTask:
            asking = asyncio.create_task(client.get("/sheet"))
            await bench.asked(count)
            task = bench.tasks[-1]
            assert isinstance(task, SheetTask)
            bench.done[-1](Outcome({"token": task.token}))
            await asking
            return task

        for number in range(2):
            bench.done[number](Outcome(DRAWN))
            bench.kept[number]()
            began = time.monotonic()
            ready = (await sheet(4 + number)).ready
            assert ready == ("crab", "whelk")[: number + 1]
            # The first one comes at once, the next one after a while.
            assert (time.monotonic() - began > 0.3) == (number == 1)

    more = "".join(
        f'\n[[sticker]]\nname = "{name}"\nsketch = "crab.jpg"\nwidth = 20\n' for name in ("whelk", "kelp")
    )
    with_desk(write_job(tmp_path, CONTRACT_JOB + more), use)


def test_files_are_written_one_time_at_a_time_and_it_is_told(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        told = desk.hub.listen({})
        await anext(told)
        assert (await client.post("/write", json={})).status_code == 202
        assert (await client.post("/write", json={})).status_code == 409
        assert bench.tasks[-1].kind == "write"
        bench.done[-1](Outcome(sentence="The disk is full."))
        event = json.loads((await anext(told)).removeprefix("data: "))
        assert (event["kind"], event["sentence"]) == ("written", "The disk is full.")
        assert (await client.post("/write", json={})).status_code == 202
        job = desk.document.path
        job.write_text(job.read_text().replace('"38 mm"', '"wide"'))
        desk.look()
        bench.done[-1](Outcome({"files": [], "folder": "sheet", "findings": 0, "sentence": None}))
        refused = await client.post("/write", json={})
        assert refused.status_code == 422
        assert "wide" in refused.json()["sentence"]

    with_desk(write_job(tmp_path), use)


def test_every_page_is_told_of_a_change_whoever_made_it(tmp_path: Path) -> None:
    async def use(client: httpx2.AsyncClient, desk: Desk, bench: PatientBench) -> None:
        pages = [desk.hub.listen({"kind": "state", "revision": 1}) for _ in range(2)]
        for page in pages:
            assert json.loads((await anext(page)).removeprefix("data: ")) == {"kind": "state", "revision": 1}
        job = desk.document.path
        job.write_text(job.read_text().replace('size = "A6"', 'size = "A5"'))
        await asyncio.to_thread(desk.look)
        for page in pages:
            assert json.loads((await anext(page)).removeprefix("data: ")) == {"kind": "state", "revision": 2}
        stale = await client.post("/undo", json={"revision": 1})
        assert (stale.status_code, stale.json()["revision"]) == (409, 2)

    with_desk(write_job(tmp_path), use)


def test_a_page_that_does_not_listen_is_let_go() -> None:
    async def run() -> None:
        hub = Hub()
        hub.begin()
        page = hub.listen({})
        await anext(page)
        for number in range(600):
            hub.tell({"kind": "state", "revision": number})
        await asyncio.sleep(0.05)
        lines = [line async for line in page]
        # It comes back by itself, and begins with how things are then.
        assert len(lines) <= 500
        hub.tell({"kind": "state", "revision": 1})

    asyncio.run(run())
