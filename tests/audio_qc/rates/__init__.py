"""Hit and false-alarm rates of the fault meters on real speech with faults added at known levels and places."""
