"""What `plan` shows of a routine before it is thrown, and where the beats of its music are."""
