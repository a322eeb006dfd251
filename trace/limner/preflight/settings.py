"""What preflight holds a sheet to."""

from dataclasses import dataclass

from limner.geometry.lengths import MM_PER_PT

__all__ = ["PreflightSettings"]


@dataclass(frozen=True, slots=True)
class PreflightSettings:
    """Limits that the checks hold a sheet to; the defaults are common practice, without a source.

    Parameters
    ----------
    cut_tolerance_mm : float
        By how much a cut line may miss the distance asked for.
    crossing_gap_mm : float
        Cut lines nearer to each other than this count as touching: a blade wanders by about as much.
    least_cut_clearance_mm : float
        Least distance between a cut line and art or lettering: a blade wanders by about half of it.
    least_gap_mm : float
        Least distance between neighbouring cut lines.
    least_safe_mm : float
        Least distance from the trim, however small a safe margin is asked for; 2 to 4 mm are usual.
    least_neck_mm : float
        Least width of a neck between two parts of a sticker.
    smallest_bleed_mm : float
        Least bleed that a printing company takes; 3 mm are usual.
    smallest_line_mm : float
        Thinnest line that prints reliably: 0.25 pt.
    smallest_text_mm : float
        Smallest type that prints readably: 5 pt.
    smallest_reversed_text_mm : float
        Smallest type that stays open in a colour of several inks: 7 pt.
    single_ink_text_mm : float
        Type below this size (9 pt) shows when plates are out of register, so it wants one ink.
    single_ink_line_mm : float
        The same for lines: below 0.5 mm.
    palest_line_ink, palest_tint : float
        Percentage of its strongest ink below which a thin line breaks up into dots, and of any ink below
        which the dots themselves are lost.
    most_error_line_widths : float
        How far the art may lie beside what was drawn, in widths of its lines.
    least_contrast : float
        Contrast ratio (Web Content Accessibility Guidelines 2) below which lettering sinks into its
        ground. Those guidelines ask for 3 and more; a quiet title may have less, none at all is a mistake.
    heavy_ink, most_ink : float
        Total ink in percent from which a coated paper dries badly, and that no company takes.
    least_dpi : float
        Resolution of a sketch at its printed size below which the tracing shows the pixels.
    most_nodes : int
        Nodes of one sticker's art above which it is laborious to edit by hand.
    cut_nodes_per_cm, cut_nodes_free : float
        Nodes that a cut line may spend per centimetre, and besides.
    most_shift : float
        CIE 1976 colour difference between asked and printable colour that is seen side by side.
    """

    cut_tolerance_mm: float = 0.05
    crossing_gap_mm: float = 0.1
    least_cut_clearance_mm: float = 1.0
    least_gap_mm: float = 1.0
    least_safe_mm: float = 2.0
    least_neck_mm: float = 1.0
    smallest_bleed_mm: float = 2.0
    smallest_line_mm: float = 0.25 * MM_PER_PT
    smallest_text_mm: float = 5.0 * MM_PER_PT
    smallest_reversed_text_mm: float = 7.0 * MM_PER_PT
    single_ink_text_mm: float = 9.0 * MM_PER_PT
    single_ink_line_mm: float = 0.5
    palest_line_ink: float = 30.0
    palest_tint: float = 3.0
    most_error_line_widths: float = 0.5
    least_contrast: float = 1.3
    heavy_ink: float = 300.0
    most_ink: float = 330.0
    least_dpi: float = 150.0
    most_nodes: int = 4000
    cut_nodes_per_cm: float = 1.5
    cut_nodes_free: float = 8.0
    most_shift: float = 6.0
