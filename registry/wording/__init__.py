"""Every sentence a person reads, made from codes and fields."""
