"""labsys runs a shared or teaching photographic darkroom."""

__version__ = "0.1.0"
