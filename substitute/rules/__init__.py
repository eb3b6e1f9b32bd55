"""What an accord puts into the finished product, held against limit sets, label thresholds and controls."""
