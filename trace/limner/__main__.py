"""Lets `python -m limner` run the command."""

from limner.cli.main import main

raise SystemExit(main())
