"""Level 6: what other people's programs call. Only what `handslide.__all__` names is promised."""
