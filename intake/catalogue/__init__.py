"""The catalogue: what the library says of an interview, its headings, and its words in time."""
