"""Who speaks: recorded words, the voices of the system, and how a word is measured."""
