from .checks import check_sheet as check_sheet

__all__ = [
    "check_sheet",
]
