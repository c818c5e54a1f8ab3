"""What is said, on which beat, and in which words."""
