"""The tests as a package, so that no installed package that brings a folder `tests` along is found in their place."""
