"""The long section as a picture, and what the map and the sheets draw of it."""
