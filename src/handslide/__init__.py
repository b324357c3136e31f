"""handslide: where every note lies on a slide-brass horn, and which way to go there."""

__version__ = "0.1.0"
