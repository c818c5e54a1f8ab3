"""A take is listened to, and what it tells is shown and kept."""
