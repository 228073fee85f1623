"""The command line: one small file a command, and the only place that prints."""
