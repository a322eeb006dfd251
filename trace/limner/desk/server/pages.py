"""Files that the desk hands out: those of its page, its type faces, and those that it wrote."""

from importlib import resources
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from limner.desk.server.answers import RefusedError
from limner.desk.server.desk import desk_of
from limner.desk.work.tasks import SHEET_FOLDER
from limner.pipeline import SHEET_FILES

__all__ = ["page_routes"]

_KINDS = {
    ".css": "text/css",
    ".html": "text/html; charset=utf-8",
    ".jpg": "image/jpeg",
    ".js": "text/javascript",
    ".json": "application/json",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".ttf": "font/ttf",
    ".woff2": "font/woff2",
}

# The faces of the sheet's lettering and of its ticket (SIL Open Font License): package and file.
_FONTS = {
    "display.ttf": ("font_fredoka_one", "FredokaOne-Regular.ttf"),
    "text.ttf": ("font_source_sans_pro", "SourceSansPro-Regular.ttf"),
    "text-semibold.ttf": ("font_source_sans_pro", "SourceSansPro-Semibold.ttf"),
}

# A type face changes no more often than what is installed.
_FOR_LONG = "max-age=86400"

# What limner wrote holds its looks in itself, and no scripts; a frame of its own keeps it from all else.
_WRITTEN_POLICY = "; ".join(
    [
        "default-src 'none'",
        "style-src 'unsafe-inline'",
        "img-src 'self' data:",
        "font-src data:",
        "sandbox",
    ]
)
# A browser shows no PDF in such a frame.
_PDF_POLICY = "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'"


def page_routes() -> list[Route]:
    """Addresses of files."""
    return [
        Route("/", _index),
        Route("/page/fonts/{name}", _font),
        Route("/page/{name:path}", _file),
        Route("/files/{name}", _written),
    ]


async def _index(_: Request) -> Response:
    return await run_in_threadpool(_page_file, "index.html")


async def _file(request: Request) -> Response:
    return await run_in_threadpool(_page_file, request.path_params["name"])


def _page_file(name: str) -> Response:
    root = Path(str(resources.files("limner.desk"))) / "page"
    body = _inside(root, name)
    kind = _KINDS.get(Path(name).suffix)
    if kind is None or body is None:
        raise RefusedError(404, "The desk has no such page.")
    return Response(body, headers={"Content-Type": kind, "Cache-Control": "no-cache"})


async def _font(request: Request) -> Response:
    found = _FONTS.get(request.path_params["name"])
    if found is None:
        raise RefusedError(404, "The desk has no such type face.")
    package, name = found
    file = resources.files(package).joinpath("files", name)
    body = await run_in_threadpool(file.read_bytes)
    return Response(body, headers={"Content-Type": "font/ttf", "Cache-Control": _FOR_LONG})


async def _written(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in SHEET_FILES:
        raise RefusedError(404, "The desk has written no such file.")
    folder = desk_of(request).document.path.parent / SHEET_FOLDER
    body = await run_in_threadpool(_inside, folder, name)
    if body is None:
        raise RefusedError(404, "That file is not written yet.")
    kind = _KINDS[Path(name).suffix]
    policy = _PDF_POLICY if kind == "application/pdf" else _WRITTEN_POLICY
    return Response(body, headers={"Content-Type": kind, "Content-Security-Policy": policy})


def _inside(root: Path, name: str) -> bytes | None:
    """A file of a folder; None where there is none, or where a name or a link leads out of it."""
    try:
        path = (root / name).resolve(strict=True)
        if root.is_symlink() or not path.is_relative_to(root.resolve()) or not path.is_file():
            return None
        return path.read_bytes()
    except (OSError, ValueError):
        return None
