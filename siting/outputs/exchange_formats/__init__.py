"""One open format a file; each turns plain items into bytes, and `exchange` gathers the items."""
