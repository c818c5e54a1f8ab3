"""Sound in files that are whole or not there."""
