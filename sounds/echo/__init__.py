"""The call on a take: where it is heard, and the take without it (acoustic echo cancellation)."""
