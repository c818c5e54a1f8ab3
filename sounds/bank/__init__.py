"""The built-in voice: its clips, and the script that makes them.

Only `make_bank` needs more than the clips: the packages of the extra `bank`.
"""
