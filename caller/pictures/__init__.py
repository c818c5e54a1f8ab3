"""Pictures of patterns and states: in text, and in SVG and PNG files."""
