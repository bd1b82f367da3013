"""From the bytes of a recording to measures: reading, weighing, options, and the object that is kept."""
