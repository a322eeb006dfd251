"""What is kept beside a job, so that a second run makes only what changed."""
