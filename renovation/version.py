"""The version that every output is stamped with; the package is built with it."""

__version__ = "0.1.0"
