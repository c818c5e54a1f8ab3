"""A pattern: how it is written, whether it can be thrown, its states, and how high it flies."""
