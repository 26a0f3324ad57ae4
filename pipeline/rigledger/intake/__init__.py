"""Intake: gate, read, check, verdict for handed-in result sets; and normalising an admitted set into the study's tables."""
