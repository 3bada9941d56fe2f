"""Text files: unpacked, decoded, cut into lines and cells."""
