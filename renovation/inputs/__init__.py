"""What people state (floor 0): frozen, strict models and scenario files in and out."""
