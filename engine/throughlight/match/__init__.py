"""A captured test frame against the prediction: where they part, which single change explains it, how to calibrate."""
