"""System checks: what would fail in silence later is said at start, each with a hint."""
