"""The pages in a real Chromium, at a desk and on a phone, with script and without."""
