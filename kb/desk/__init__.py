"""The verbs of the job: all that the command line and the screens may call."""
