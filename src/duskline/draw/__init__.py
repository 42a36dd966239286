"""One SVG writer for every drawing: terminal file, page and sheet show the same picture."""
