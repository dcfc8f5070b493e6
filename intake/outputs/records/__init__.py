"""What is known of an interview as records of open standards: functions from frozen dataclasses to XML."""
