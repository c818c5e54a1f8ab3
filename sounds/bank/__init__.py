"""The built-in voice: its clips, and the script that makes them.

The clips are ready to use; only `make_bank` needs the packages of the extra `bank`.
"""
