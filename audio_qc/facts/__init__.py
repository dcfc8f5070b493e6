"""The facts about one audio file: frozen, with units in the names; `None` always comes with a reason."""
