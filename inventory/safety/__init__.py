"""What can hurt: classes of hazard, data sheets, what stands where it must not."""
