"""From a segment to the things that make, stand in for and measure it: mould, print, inspection."""
