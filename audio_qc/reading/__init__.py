"""How files are read: what kind they are, their chunks and tags, and the two libraries that decode their sound.

`audio_qc.source` is the door: nothing else outside this folder opens a sound file to measure it.
"""
