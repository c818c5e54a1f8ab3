"""When it is thrown: a run and its tempo become a timeline of beats."""
