"""The staff's queue: a derived row for each interview, made to be searched, filtered and sorted among millions."""
