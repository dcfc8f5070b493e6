"""The version that every stored measurement names; raise it whenever a figure could come out differently."""

__version__ = "0.3.0"
