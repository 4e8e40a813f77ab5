"""The stores."""
