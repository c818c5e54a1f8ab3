"""The call's own sound on a take: found, and taken out."""
