"""Lets `python -m limner` run the command."""

from limner.cli import main

raise SystemExit(main())
