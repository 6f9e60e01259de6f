"""`python -m sunhob` (no units here)."""

from .cli import main

main()
