"""What is taken away besides the sound: MIDI files, captions, pages."""
