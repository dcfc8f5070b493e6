"""The door for harvesters: OAI-PMH 2.0 over what anybody may know of."""
