"""What knows no person and no table of ours: refusals, text, units, ids, tables read and drawn, SQL, triggers."""
