"""`python -m labsys` is `labsys`."""

from labsys.cli import main

main(prog_name="labsys")
