"""What is written beside the sound: events, MIDI files, captions, pages."""
