"""Whether the measuring code has been compiled on this computer before."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def must_compile() -> bool:
    """Whether no kernel is found compiled; numba keeps one index file for each, newer than the code it is made from."""
    from audio_qc.kernels import blocks  # noqa: PLC0415 - loads numba, which a refusal never waits for

    return not any(_is_kept(kernel) for kernel in _kernels(blocks))


def _kernels(module: Any) -> Iterator[Any]:
    return (value for value in vars(module).values() if hasattr(value, "py_func") and hasattr(value, "stats"))


def _is_kept(kernel: Any) -> bool:
    folder, function = kernel.stats.cache_path, kernel.py_func
    if not folder:
        return False
    source = sys.modules[function.__module__].__file__ or ""
    indexes = Path(folder).glob(f"{Path(source).stem}.{function.__qualname__}-*.nbi")
    return any(index.stat().st_mtime >= os.path.getmtime(source) for index in indexes)
