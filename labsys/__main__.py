"""`python -m labsys` is `labsys`."""

from labsys.cli import main

if __name__ == "__main__":
    main(prog_name="labsys")
