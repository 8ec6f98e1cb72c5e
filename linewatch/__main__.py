"""Allow `python -m linewatch`."""

from linewatch.cli import main

main()
