"""Who speaks: recorded words, the system's voices, tones in their stead, and other languages.

`translations.csv` is the one table of the program's phrases in other languages: a row for each
phrase, a column for each language.
"""
