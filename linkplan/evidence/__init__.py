"""What the equipment itself sent and logged, held against the job."""
