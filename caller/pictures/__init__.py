"""What is shown of patterns: pages, pictures and lists."""
