"""What is within reach, recalls and complaints."""
