-- Nothing: this number is kept for tables that are still to come.
SELECT 1;
