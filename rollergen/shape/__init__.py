"""What it looks like: outlines, section, part, solid, mesh."""
