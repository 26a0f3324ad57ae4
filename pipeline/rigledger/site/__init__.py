"""One page and one feed over the releases of several studies."""
