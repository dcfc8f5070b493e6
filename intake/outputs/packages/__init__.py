"""Preservation packages: what the library holds of an interview as a bag (BagIt 1.0, RFC 8493), and back again."""
