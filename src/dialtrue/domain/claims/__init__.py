"""What may be claimed or must be refunded of a difference: local rules as settings, apart by direction."""
