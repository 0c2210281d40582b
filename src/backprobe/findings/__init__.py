"""What is known about a job: findings, and how they fold into visits and a put-back list."""
