"""What sets the service up elsewhere: compose file, image, make, locks; checked without an engine."""
