"""Where in a video a ball is found."""
