"""What other systems are told, and how."""
