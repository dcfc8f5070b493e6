"""The compiled sample loops that the meters share; plain arrays in, plain arrays out, no allocation by file length."""
