"""The coach's workshop: rules tested, written, changed, layered and printed without Python."""
