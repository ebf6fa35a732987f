"""The job as a whole: agreed, changed, charged, released."""
