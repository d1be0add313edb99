"""The command line: reads files, calls the rest, prints, writes, sets the exit code.

The only place that knows paths, the clock and the terminal. Nothing heavy is imported
before a command needs it.
"""
