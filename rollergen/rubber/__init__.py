"""Rubber that gives: the plane mesh of a section, the law of the rubber, contact and the road to a solution."""
