"""A microphone, listened to by a process of its own."""
