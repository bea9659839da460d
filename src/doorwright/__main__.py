"""`python -m doorwright` is `doorwright`."""

from doorwright.cli.main import main

main()
