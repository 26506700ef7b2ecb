"""What a sample's measurements say: texture, plasticity, shrinkage, absorption, loss on firing, depth means."""
