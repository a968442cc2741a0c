"""Every reader: the only code that opens a user's file."""
