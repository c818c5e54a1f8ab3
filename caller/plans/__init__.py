"""What is shown of a routine before it is thrown."""
