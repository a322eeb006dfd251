"""One browser for the tests of each module."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from helpers_page import open_browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with open_browser() as browser:
        yield browser
