"""One job: every sticker traced, cut, laid out and checked."""
