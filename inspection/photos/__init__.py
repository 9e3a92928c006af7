"""Photos of records, nonconformances, items of rework, notices and decisions; what is drawn over them."""
