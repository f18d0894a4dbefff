"""Program in, verdict out; and the verdict as text, JSON and HTML."""
