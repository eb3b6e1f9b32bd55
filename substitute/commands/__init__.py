"""The commands of the command line, by what they ask for. A command parses, calls the library and shows; no
arithmetic."""
