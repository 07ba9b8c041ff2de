"""The worker's body: size, joints, what the hand can reach from a boot plate, with proof."""
