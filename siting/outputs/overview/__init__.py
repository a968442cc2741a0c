"""The overview page: many places on one map that opens with no network, and the list of the worst."""
