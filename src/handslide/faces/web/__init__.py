"""The studio's pages in the browser."""
