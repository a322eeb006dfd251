from .checks import check_sheet as check_sheet
from .settings import PreflightSettings as PreflightSettings

__all__ = [
    "PreflightSettings",
    "check_sheet",
]
