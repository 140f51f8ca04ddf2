"""What it does: one file per question, each returns a frozen report."""
