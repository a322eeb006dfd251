"""The sheet on its page: a first time, what waits, what is written, a desk that goes and comes back."""

import re
import socket
import time
import tomllib
from contextlib import ExitStack, closing
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Browser, expect

from helpers_page import area, crab_job, into, running_desk, saved, visit


def test_an_empty_desk_says_what_it_is_for_and_offers_a_sheet(browser: Browser, tmp_path: Path) -> None:
    with running_desk(tmp_path) as address, visit(browser, address) as page:
        expect(page.get_by_role("heading", name="Drop sketches here")).to_be_visible()
        expect(page.get_by_role("status")).to_have_text("Saved")
        page.get_by_role("button", name="tide-pool sheet").click()
        expect(page.locator("[data-sticker]")).to_have_count(8)
        expect(page.get_by_role("heading", name="Drop sketches here")).to_be_hidden()
        assert (tmp_path / "crab.jpg").exists()


def test_what_cannot_be_traced_says_why_where_it_lies_and_the_rest_goes_on(
    browser: Browser, tmp_path: Path
) -> None:
    job = crab_job(tmp_path)
    (tmp_path / "blot.jpg").write_bytes(b"no picture")
    job.write_text(job.read_text() + '\n[[sticker]]\nname = "blot"\nsketch = "blot.jpg"\nwidth = "20 mm"\n')
    with running_desk(job) as address, visit(browser, address) as page:
        blot = page.get_by_role("button", name="blot")
        expect(blot).to_have_accessible_description(re.compile("blot.jpg.* is not a picture"))
        crab = page.locator("#surface [data-sticker=crab]")
        expect(crab).to_be_attached()
        saved(page)

        page.get_by_role("button", name="Write the files").click()
        expect(page.locator(".written")).to_contain_text("blot")
        blot.click()
        expect(page.get_by_role("group", name="Notes")).to_contain_text("blot.jpg")


def test_the_files_are_written_and_offered(browser: Browser, tmp_path: Path) -> None:
    with running_desk(crab_job(tmp_path)) as address, visit(browser, address) as page:
        page.get_by_role("button", name="Write the files").click()
        proof = page.get_by_role("link", name="the proof")
        expect(proof).to_be_visible()
        assert (tmp_path / "sheet" / "sheet.pdf").exists()
        with page.context.expect_page() as opened:
            proof.click()
        expect(opened.value.locator("img")).to_be_visible()
        opened.value.close()
        page.mouse.click(5, 5)
        expect(proof).to_be_hidden()


def test_a_desk_that_is_killed_loses_nothing_and_goes_on_when_it_is_back(
    browser: Browser, tmp_path: Path
) -> None:
    job = crab_job(tmp_path)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    with ExitStack() as visiting:
        with running_desk(job, "--port", port, is_killed=True) as address:
            page = visiting.enter_context(visit(browser, address))
            into(page)
            area(page, "shell").focus()
            page.keyboard.press("Enter")
            slip = page.get_by_role("dialog", name="shell", exact=True)
            slip.get_by_role("radio", name="kelp").check()
            saved(page)
        expect(page.get_by_role("status")).to_contain_text("does not answer")
        assert tomllib.loads(job.read_text())["sticker"][0]["area"][0]["fill"] == "kelp"
        slip.get_by_role("radio", name="sand").check()
        expect(slip.get_by_role("alert")).to_contain_text("start limner desk again")
        with running_desk(job, "--port", port) as address:
            other = page.context.new_page()
            other.goto(address)
            saved(page)
            expect(area(page, "shell")).to_have_attribute("fill", "#7fb069")
            page.keyboard.press("Escape")
            page.get_by_role("button", name="Undo").click()
            expect(area(page, "shell")).not_to_have_attribute("fill", "#7fb069")
            other.close()
            visiting.close()


def test_small_answers_do_not_wait_for_more_to_send(tmp_path: Path) -> None:
    with running_desk(crab_job(tmp_path)) as address:
        place = urlsplit(address)
        with closing(HTTPConnection(place.hostname, place.port)) as door:
            door.request("GET", f"/?{place.query}")
            answer = door.getresponse()
            cookie = {"Cookie": answer.getheader("Set-Cookie").split(";")[0]}
            answer.read()
            took = []
            for _ in range(20):
                begun = time.perf_counter()
                door.request("GET", "/page/main.js", headers=cookie)
                assert door.getresponse().read()
                took.append(time.perf_counter() - begun)
    assert min(took) < 0.03, "an answer in two pieces waits 40 ms for its first to be acknowledged"
