"""Parts of pages."""
