"""``python -m noonpot``."""

from noonpot.cli import main

main()
