from .compose import PreparedSticker as PreparedSticker
from .compose import SheetSettings as SheetSettings
from .compose import StickerSettings as StickerSettings
from .compose import compose_sheet as compose_sheet
from .compose import copied as copied
from .compose import fitting_scale as fitting_scale
from .compose import lay_cut as lay_cut
from .compose import prepare_sticker as prepare_sticker
from .cut.cut_line import Cut as Cut
from .cut.offset import Neck as Neck
from .lettering.fonts import Face as Face
from .lettering.fonts import default_face as default_face
from .lettering.fonts import open_face as open_face
from .lettering.setting import LetteringSettings as LetteringSettings
from .lettering.setting import set_lettering as set_lettering
from .settings import Alike as Alike
from .settings import CutForm as CutForm
from .settings import CutSettings as CutSettings
from .settings import LayoutSettings as LayoutSettings
from .settings import PlacedForm as PlacedForm

__all__ = [
    "Alike",
    "Cut",
    "CutForm",
    "CutSettings",
    "Face",
    "LayoutSettings",
    "LetteringSettings",
    "Neck",
    "PlacedForm",
    "PreparedSticker",
    "SheetSettings",
    "StickerSettings",
    "compose_sheet",
    "copied",
    "default_face",
    "fitting_scale",
    "lay_cut",
    "open_face",
    "prepare_sticker",
    "set_lettering",
]
