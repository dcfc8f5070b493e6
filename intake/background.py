"""One handler per kind of background work: call a service, then perhaps the workflow."""
