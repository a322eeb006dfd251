from .repeat import repeat_motifs as repeat_motifs

__all__ = [
    "repeat_motifs",
]
