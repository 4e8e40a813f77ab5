"""Tracing, recalls and complaints."""
