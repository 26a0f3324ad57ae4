"""The commands: each parses, calls one function and prints. Heavy imports stay inside them."""
