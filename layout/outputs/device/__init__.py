"""What the files for phones and receivers share: places, names, notes and plain XML."""
