"""Numbers from outside, once each, one module or folder a document and edition."""
