"""From what was asked for to what is heard, live or in a file.

The beats of music, tapped by a person.

A key is pressed on each beat while it plays (`tapping`), the presses are made into beats (`taps`),
and these are written down (`beats_file`).
"""
