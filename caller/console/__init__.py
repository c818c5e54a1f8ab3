"""What a terminal can show: texts that fit, colours, progress, and pictures in files."""
