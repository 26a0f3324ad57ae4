"""Intake of handed-in result sets: gate, read, check, verdict, and normalising."""
